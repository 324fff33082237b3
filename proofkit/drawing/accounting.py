"""What other drawn lines and hatching account for: a printed line is one line's departure only if it is no other's."""

from collections.abc import Sequence

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Mask, Points
from proofkit.drawing.fitting import Target
from proofkit.drawing.following import DEPARTS_MM, FOLLOW_MM
from proofkit.drawing.types import Contour, Courses

OTHER_MM = 0.3
"""A printed line this near to another drawn line that it follows is the print of that one. [mm]"""

OTHER_SINE = 0.3
"""... and runs in its direction within 17 degrees. [-]"""

RUNS_ON_MM = 2.0
"""A drawn line whose pencil is lost, as where others cross it, is taken up again within this. [mm]"""

RUNS_ON_SINE = 0.71
"""... within 45 degrees: a contour turns on the way. [-]"""

AHEAD = 0.5
"""... and ahead of its end within 60 degrees, as a cosine. [-]"""

JOIN_MM = 2.4
"""A departing stretch runs back to its drawn line within this. [mm]"""

HEADING_POINTS = 5
"""Points at the end of a line that give its heading: 1.2 mm."""


class Accounted:
    """Drawn lines that were followed, to be looked up by place, and what of the print is hatching."""

    def __init__(
        self, contours: Sequence[Contour], printed: Courses | None = None, hatching: Mask | None = None
    ) -> None:
        """Take drawn lines that were followed, and of the printed lines which points are hatching."""
        self.number = np.repeat(np.arange(len(contours)), [len(one.departure_mm) for one in contours])
        self.normals = np.concatenate([one.normals for one in contours])
        self.departure_mm = np.concatenate([one.departure_mm for one in contours])
        drawn = np.concatenate([drawn_place(one) for one in contours])
        self.drawn = cKDTree(drawn)
        self.follows = np.abs(self.departure_mm) <= DEPARTS_MM
        met = (drawn + self.departure_mm[:, None] * self.normals)[self.follows]
        self.printed = cKDTree(met)
        self.lines = None if printed is None else Target(printed)
        self.hatching = hatching
        self.stacks = None
        if printed is not None and hatching is not None and hatching.any():
            self.stacks = cKDTree(printed.points_mm[hatching])
            angle = printed.direction[hatching]
            self.along_stacks = np.column_stack((np.cos(angle), np.sin(angle)))

    def by_others(self, number: int, points_mm: Points, normals: Points, reach_mm: float = OTHER_MM) -> Mask:
        """Return which points lie on a printed line that follows another drawn line."""
        result = np.zeros(len(points_mm), dtype=np.bool_)
        whose, across = self.number[self.follows], self.normals[self.follows]
        for k, near in enumerate(self.printed.query_ball_point(points_mm, reach_mm)):
            at = np.array(near, dtype=np.intp)
            at = at[whose[at] != number]
            sine = normals[k, 0] * across[at, 1] - normals[k, 1] * across[at, 0]
            result[k] = bool((np.abs(sine) < OTHER_SINE).any())
        return result

    def is_hatching(self, points_mm: Points, normals: Points, reach_mm: float) -> Mask:
        """Return for which points the nearest printed line of their direction is hatching, and within reach."""
        if self.lines is None or self.hatching is None:
            return np.zeros(len(points_mm), dtype=np.bool_)
        at = self.lines.nearest_at(points_mm, _directions(normals))
        near = np.hypot(*(self.lines.printed.points_mm[at] - points_mm).T) < reach_mm
        return np.asarray(near & self.hatching[at])

    def beside_hatching(self, points_mm: Points, normals: Points, reach_mm: float) -> Mask:
        """Return which points have a line of hatching within reach that runs along with them."""
        result = np.zeros(len(points_mm), dtype=np.bool_)
        if self.stacks is None:
            return result
        for k, near in enumerate(self.stacks.query_ball_point(points_mm, reach_mm)):
            result[k] = bool((np.abs(self.along_stacks[near] @ normals[k]) < OTHER_SINE).any())
        return result

    def runs_on(self, number: int, contour: Contour, *, at_start: bool) -> bool:
        """Return whether another drawn line runs on from an end of a line, and is followed from there."""
        drawn = drawn_place(contour)
        part = drawn[:HEADING_POINTS][::-1] if at_start else drawn[-HEADING_POINTS:]
        heading = part[-1] - part[0]
        heading = heading / max(float(np.hypot(*heading)), 1e-9)
        near = np.array(self.drawn.query_ball_point(part[-1], RUNS_ON_MM), dtype=np.intp)
        near = near[self.number[near] != number]
        places = np.asarray(self.drawn.data)
        way = places[near] - part[-1]
        along = np.abs(self.normals[near] @ heading) < RUNS_ON_SINE
        ahead = way @ heading > AHEAD * np.hypot(*way.T)
        for at in near[along & ahead]:
            step = 1 if self._turns_to(int(at), heading) else -1
            onward = at + step * np.arange(round(JOIN_MM / FOLLOW_MM))
            onward = onward[(onward >= 0) & (onward < len(self.number))]
            if self.follows[onward[self.number[onward] == self.number[at]]].any():
                return True
        return False

    def _turns_to(self, at: int, heading: Points) -> bool:
        """Return whether the line of a drawn point runs in a heading as its points are numbered."""
        places = np.asarray(self.drawn.data)
        beside = at + 1 if at + 1 < len(self.number) and self.number[at + 1] == self.number[at] else at - 1
        return bool((places[beside] - places[at]) @ heading * (beside - at) > 0)


def _directions(normals: Points) -> Floats:
    """Return the directions across unit vectors, 0 to pi. [rad]"""
    return np.asarray(np.mod(np.arctan2(normals[:, 1], normals[:, 0]) + np.pi / 2, np.pi))


def drawn_place(contour: Contour) -> Points:
    """Return where the drawing has a line, smooth stretch taken off, (m, 2). [print mm]"""
    return np.asarray(contour.points_mm + contour.stretch_mm[:, None] * contour.normals)
