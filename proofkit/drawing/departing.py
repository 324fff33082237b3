"""Passages in which the print leaves its drawing: told from lines that were never engraved and from other contours."""

from collections.abc import Callable, Sequence

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Index, Mask, Points
from proofkit.drawing.types import Contour, Departure

FOLLOW_MM = 0.3
"""Distance of the points at which a drawn line is followed. [mm]"""

DEPARTS_MM = 0.45
"""A printed line this far from the drawn one departs: three times the hand's own wandering of 0.15 mm. [mm]"""

CREST = 70.0
"""Percentile of a stretch's distances that stands for it: its crest without its flanks, less swayed by the hand
than the largest one."""

JOIN_MM = 2.4
"""A departing stretch runs back to its drawn line within this at both ends, or at one and ends at the other. [mm]"""

STEEPEST = 1.5
"""... at no more than this, mm aside per mm along: a passage moved by hand runs back over 1.5 mm and more (simulated
pairs), while the way to another printed line jumps. [-]"""

WHOLE_SHARE = 0.6
"""... or is most of its line: a contour that was moved as a whole. [-]"""

UNSEEN_POINTS = 4
"""Points within a departing stretch at which no printed line is met: 1.2 mm, where the burin was set down anew."""

STEADY_MM = 0.35
"""... provided it lies as far aside beyond them. [mm]"""

SHORTEST_MM = 1.5
"""Shortest stretch that is called a departure: pencil that ends within a moved passage shows no more. [mm]"""

OTHER_MM = 0.3
"""A printed line this near to another drawn line that it follows is the print of that one. [mm]"""

BESIDE_MM = 0.5
"""Where the print of another drawn line is this near, a line beside the drawn place says nothing of this one. [mm]"""

OTHER_SINE = 0.3
"""... and runs in its direction within 17 degrees. [-]"""

PRINTED_SHARE = 0.5
"""A line is printed at the drawn place when it stands out by this share of what followed lines do. [-]"""

MOSTLY = 0.5
"""Share of a stretch that speaks for all of it. [-]"""


Contrast = Callable[[Points, Points], Floats]
"""Course and its normals, both (n, 2) -> how much darker than its sides the print is along it."""


def departures(contours: Sequence[Contour], contrast: Contrast | None = None) -> list[Departure]:
    """Return the stretches on which the printed line runs elsewhere, largest first.

    Parameters
    ----------
    contours : sequence of Contour
    contrast : callable, optional
        Reads the print at the drawn place: where it shows a line there, none departs.

    Notes
    -----
    Where two contours of a drawing come together, the way along one can stray to the print of the other: a passage
    whose printed line another drawn line accounts for is none. Among hatching the printed contour is not always found
    as a line, and the way strays to the ends of the hatching: there the print itself is asked.
    """
    found = []
    accounted = _Accounted(contours)
    usual = _usual_contrast(contours, contrast)
    for number, contour in enumerate(contours):
        for run in far_runs(contour.departure_mm):
            moved = contour.departure_mm[run]
            drawn = contour.points_mm[run] + contour.stretch_mm[run, None] * contour.normals[run]
            printed = drawn + moved[:, None] * contour.normals[run]
            if accounted.for_by_others(number, printed, contour.normals[run]).mean() > MOSTLY:
                continue
            if contrast is not None:
                alone = ~accounted.for_by_others(number, drawn, contour.normals[run], BESIDE_MM)
                if _is_printed(drawn[alone], contour.normals[run][alone], contrast, usual):
                    continue
            found.append(
                Departure(
                    contour=number + 1,
                    points_mm=drawn,
                    printed_mm=printed,
                    length_mm=len(run) * FOLLOW_MM,
                    departure_mm=float(np.percentile(np.abs(moved), CREST)),
                )
            )
    return sorted(found, key=lambda departure: -departure.departure_mm * departure.length_mm)


def _usual_contrast(contours: Sequence[Contour], contrast: Contrast | None) -> float:
    """Return how the print stands out along drawn lines that it follows, the median."""
    if contrast is None:
        return 0.0
    read = []
    for contour in contours:
        follows = np.flatnonzero(np.abs(contour.departure_mm) <= DEPARTS_MM)
        if len(follows) > 1:
            drawn = contour.points_mm + contour.stretch_mm[:, None] * contour.normals
            read.append(contrast(drawn[follows], contour.normals[follows]))
    return float(np.median(np.concatenate(read))) if read else 0.0


def _is_printed(drawn_mm: Points, normals: Points, contrast: Contrast, usual: float) -> bool:
    """Return whether the print shows a line along most of a drawn course."""
    if len(drawn_mm) < 2:
        return False
    return bool((contrast(drawn_mm, normals) > PRINTED_SHARE * usual).mean() > MOSTLY)


class _Accounted:
    """Drawn points that printed lines follow, to be looked up by place."""

    def __init__(self, contours: Sequence[Contour]) -> None:
        follows = [np.abs(contour.departure_mm) <= DEPARTS_MM for contour in contours]
        self.number = np.repeat(np.arange(len(contours)), [int(keep.sum()) for keep in follows])
        places = [
            (one.points_mm + (one.stretch_mm + one.departure_mm)[:, None] * one.normals)[keep]
            for one, keep in zip(contours, follows, strict=True)
        ]
        self.normals = np.concatenate(
            [one.normals[keep] for one, keep in zip(contours, follows, strict=True)]
        )
        self.tree = cKDTree(np.concatenate(places))

    def for_by_others(
        self, number: int, points_mm: Points, normals: Points, reach_mm: float = OTHER_MM
    ) -> Mask:
        """Return which points lie on a printed line that follows another drawn line."""
        result = np.zeros(len(points_mm), dtype=np.bool_)
        for k, near in enumerate(self.tree.query_ball_point(points_mm, reach_mm)):
            at = np.array(near, dtype=np.intp)
            at = at[self.number[at] != number]
            sine = normals[k, 0] * self.normals[at, 1] - normals[k, 1] * self.normals[at, 0]
            result[k] = bool((np.abs(sine) < OTHER_SINE).any())
        return result


def far_runs(departure_mm: Floats) -> list[Index]:
    """Return the points of each stretch that departs to one side and hangs together with its contour.

    A drawn line that was never engraved meets other lines by chance: such a stretch neither runs back to a place
    where the print follows, nor is most of its line.
    """
    runs = []
    for sign in (-1.0, 1.0):
        at = np.flatnonzero(sign * departure_mm > DEPARTS_MM)
        broken = (np.diff(at) > UNSEEN_POINTS + 1) | (np.abs(np.diff(departure_mm[at])) > STEADY_MM)
        for run in np.split(at, np.flatnonzero(broken) + 1):
            if not len(run) or (run[-1] - run[0] + 1) * FOLLOW_MM < SHORTEST_MM:
                continue
            sides = {_side(departure_mm, int(run[0]), -1), _side(departure_mm, int(run[-1]), 1)}
            between = sides <= {"joins", "jumps"}
            hangs = between or ("joins" in sides and "lost" not in sides)
            if hangs or len(run) > WHOLE_SHARE * len(departure_mm):
                runs.append(run)
    return runs


def _side(departure_mm: Floats, last: int, step: int) -> str:
    """Return what becomes of a stretch beyond its last point.

    It `joins` its drawn line or `jumps` back to it, `ends` where its line does or where another printed line is
    followed from there on, or is `lost`: nothing is met, though the drawn line goes on.
    """
    beyond = departure_mm[last + 1 :] if step > 0 else departure_mm[:last][::-1]
    near = beyond[: round(JOIN_MM / FOLLOW_MM)]
    close = np.flatnonzero(np.abs(near) <= DEPARTS_MM)
    if len(close):
        first = int(close[0])
        steep = abs(near[first] - departure_mm[last]) / ((first + 1) * FOLLOW_MM)
        return "joins" if steep <= STEEPEST else "jumps"
    return "ends" if len(near) == len(beyond) or np.isfinite(near).any() else "lost"
