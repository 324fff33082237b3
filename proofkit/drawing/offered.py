"""Which printed lines are offered to a drawn line, and at what price."""

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Mask, Points
from proofkit.drawing.fitting import Target
from proofkit.drawing.following import DEPARTS_MM, REACH_MM, Offer
from proofkit.drawing.types import Contour, Courses

HATCHING_COST = 3.0
"""A contour follows a line of hatching at half of what a point without any line costs. [squares of LINE_MM]"""

OTHERS_COST = 4.0
"""... and the print of another drawn line at two thirds, away from its own place only: two drawn lines can be one on
the plate. [squares of LINE_MM]"""

CLAIM_MM = 0.25
"""A followed point claims the printed line this near to where it meets it. [mm]"""

CLAIM_SINE = 0.3
"""... that runs in its direction within 17 degrees. [-]"""

CLAIM_POINTS = 5
"""... and as part of a stretch of 1.5 mm at least that is followed: shorter ones are met by chance. [-]"""


class Offers:
    """The printed lines, with what is hatching and what other drawn lines have a claim to."""

    def __init__(self, printed: Courses, hatching: Mask, contours: Sequence[Contour] = ()) -> None:
        """Take the lines of a print, which of their points are hatching, and drawn lines that were followed."""
        self.printed = printed
        self.hatching = hatching
        self.claims = np.zeros((len(contours), len(hatching)), dtype=np.bool_)
        tree = cKDTree(printed.points_mm)
        along = np.column_stack((np.cos(printed.direction), np.sin(printed.direction)))
        for number, one in enumerate(contours):
            keep = _steadily(np.abs(one.departure_mm) <= DEPARTS_MM)
            met = (one.points_mm + (one.stretch_mm + one.departure_mm)[:, None] * one.normals)[keep]
            for near, normal in zip(tree.query_ball_point(met, CLAIM_MM), one.normals[keep], strict=True):
                at = np.array(near, dtype=np.intp)
                self.claims[number, at[np.abs(along[at] @ normal) < CLAIM_SINE]] = True

    def claimed(self, contours: Sequence[Contour]) -> "Offers":
        """Return the same lines with the claims of drawn lines that were followed."""
        return Offers(self.printed, self.hatching, contours)

    def to(self, number: int, points_mm: Points, *, hatches: bool) -> list[Offer]:
        """Return what is offered to one drawn line.

        Parameters
        ----------
        number : int
            Of the line, as in the contours whose claims are known.
        points_mm : Points
            (n, 2) its points on the print: lines out of reach are left out.
        hatches : bool
            It is drawn hatching itself: hatching then costs nothing.
        """
        low, high = points_mm.min(axis=0) - 2 * REACH_MM, points_mm.max(axis=0) + 2 * REACH_MM
        here = ((self.printed.points_mm >= low) & (self.printed.points_mm <= high)).all(axis=1)
        others = np.zeros(len(here), dtype=np.bool_)
        if len(self.claims):
            others = np.delete(self.claims, number, axis=0).any(axis=0) & ~self.claims[number]
        stack = self.hatching & ~others & (not hatches)
        kinds = (
            (~others & ~stack, 0.0, 0.0),
            (stack, HATCHING_COST, HATCHING_COST),
            (others, 0.0, OTHERS_COST),
        )
        return [
            Offer(Target(some_of(self.printed, here & kind)), near, far)
            for kind, near, far in kinds
            if (here & kind).any()
        ]


def _steadily(follows: Mask) -> Mask:
    """Return the points of runs of `CLAIM_POINTS` and more."""
    run = np.cumsum(np.diff(follows, prepend=False))
    return np.asarray(follows & (np.bincount(run)[run] >= CLAIM_POINTS))


def some_of(courses: Courses, keep: Mask) -> Courses:
    """Return some points of courses."""
    return Courses(
        courses.points_mm[keep],
        courses.direction[keep],
        courses.line[keep],
        courses.length_mm[keep],
        courses.weight[keep],
    )
