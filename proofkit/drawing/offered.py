"""Which printed lines are offered to a drawn line, and at what price."""

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Index, Mask, Points
from proofkit.drawing.accounting import drawn_place
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
        self.tree = cKDTree(printed.points_mm)
        self.along = np.column_stack((np.cos(printed.direction), np.sin(printed.direction)))
        self.claims = [self._claim(one) for one in contours]
        self.is_claimed = np.zeros(len(hatching), dtype=np.bool_)
        for claim in self.claims:
            self.is_claimed[claim] = True

    def _claim(self, contour: Contour) -> Index:
        """Return the printed points that a drawn line has a claim to."""
        keep = _steadily(np.abs(contour.departure_mm) <= DEPARTS_MM)
        met = (drawn_place(contour) + contour.departure_mm[:, None] * contour.normals)[keep]
        mine = []
        for near, normal in zip(
            self.tree.query_ball_point(met, CLAIM_MM), contour.normals[keep], strict=True
        ):
            at = np.array(near, dtype=np.intp)
            mine.append(at[np.abs(self.along[at] @ normal) < CLAIM_SINE])
        return np.unique(np.concatenate(mine)) if mine else np.empty(0, dtype=np.intp)

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
        others = self.is_claimed.copy()
        if self.claims:
            others[self.claims[number]] = False
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
