"""Passages in which the print leaves its drawing: told from lines that were never engraved and from other contours."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats, Index, Points
from proofkit.drawing.accounting import JOIN_MM, Accounted, drawn_place
from proofkit.drawing.following import DEPARTS_MM, FOLLOW_MM, SEEN_MM
from proofkit.drawing.types import Contour, Departure

CREST = 70.0
"""Percentile of a stretch's distances that stands for it: its crest without its flanks, less swayed by the hand
than the largest one."""

LEAST_MM = 0.65
"""Least distance of that crest: between `DEPARTS_MM` and this, hand and stretch together tell departures that are none
as often as real ones (simulated pairs). [mm]"""

STEEPEST = 1.5
"""A departing stretch runs back at no more than this, mm aside per mm along: a passage moved by hand runs back over
1.5 mm and more (simulated pairs), while the way to another printed line jumps. [-]"""

WHOLE_SHARE = 0.5
"""A stretch that does not run back is believed if it is most of its line, a contour moved as a whole, or runs back at
one end though its line is lost at the other. [-]"""

WHOLE_MM = 2.4
"""... and this long. [mm]"""

WHOLE_RATIO = 2.0
"""... and twice as long as it lies aside: what a line that was never engraved meets by chance lies anywhere. [-]"""

ALL_SHARE = 0.9
"""A piece that lies aside all along has no place of its own that the print follows: where only other pieces run back
for it, that is asked of it as well. [-]"""

WHOLE_SHARED = 0.3
"""... and no more of its printed line than this is another drawn line's. [-]"""

BOTH_SHARED = 0.8
"""A stretch whose line is followed beyond both ends may share this much of its printed line with another drawn
line. [-]"""

UNSEEN_POINTS = 4
"""Points within a departing stretch at which no printed line is met: 1.2 mm, where the burin was set down anew."""

STEADY_MM = 0.35
"""... provided it lies as far aside beyond them. [mm]"""

SHORTEST_MM = 1.5
"""Shortest stretch that is called a departure: pencil that ends within a moved passage shows no more. [mm]"""

BESIDE_MM = 0.5
"""Where the print of another drawn line is this near, a line beside the drawn place says nothing of this one. [mm]"""

HATCHED_MM = 0.4
"""... nor where hatching that runs along is this near. [mm]"""

SEEN_SHARE = 0.2
"""Less of a stretch that others leave to be seen says nothing of whether it is bare. [-]"""

UNSEEN_MM = 3.0
"""Where only hatching hides that, a stretch this long that runs back is believed. [mm]"""

UNSEEN_SHARE = 0.75
"""... if it is no more than this of its line, so that the line itself runs back. [-]"""

HATCHED_SHARE = 0.65
"""A printed line that is hatching along this share is no contour: one that crosses hatching at a small angle meets
some. [-]"""

ON_LINE_MM = SEEN_MM
"""... where the nearest printed line is one of hatching: a way that drifts from line to line keeps off them in
part. [mm]"""

PRINTED_SHARE = 0.5
"""A line is printed at the drawn place when it stands out by this share of what followed lines do. [-]"""

PRINTED_MOSTLY = 0.85
"""... along this share of the stretch: lines that cross it, or lie beside a part of it, do so for less. [-]"""

MOSTLY = 0.5
"""Share of a stretch that speaks for all of it. [-]"""

Contrast = Callable[[Points, Points], Floats]
"""Course and its normals, both (n, 2) -> how much darker than its sides the print is along it."""


class Stretch(NamedTuple):
    """A stretch of drawn line whose printed line lies aside, and what speaks for and against it."""

    run: Index
    """Points of its contour."""
    drawn_mm: Points
    """(m, 2) where the drawing has it, smooth stretch taken off. [print mm]"""
    printed_mm: Points
    """(m, 2) where the print has it."""
    normals: Points
    sides: tuple[str, str]
    """What becomes of it beyond its ends: `joins`, `jumps`, `ends`, `lost`."""
    share: float
    """Share of its line that it is. [-]"""
    shared: float
    """Share of its printed line that other drawn lines account for. [-]"""
    hatched: float
    """Share of its printed line that is hatching, 0 for drawn hatching. [-]"""


def departures(
    contours: Sequence[Contour], accounted: Accounted, contrast: Contrast | None = None
) -> list[Departure]:
    """Return the stretches on which the printed line runs elsewhere, largest first.

    Parameters
    ----------
    contours : sequence of Contour
    accounted : Accounted
        The same contours, and what of the print is hatching.
    contrast : callable, optional
        Reads the print at the drawn place: where it shows a line there, none departs.

    Notes
    -----
    Where two contours of a drawing come together, the way along one can stray to the print of the other: a passage
    whose printed line another drawn line accounts for is none. Hatching is the engraver's own, so neither is one that
    meets its lines. Where the finder lost the printed contour, the print itself is asked.
    """
    found = []
    usual = _usual_contrast(contours, contrast)
    for number, contour in enumerate(contours):
        for run in far_runs(contour.departure_mm):
            one = weighed(number, contour, run, accounted)
            if not hangs(one) or is_anothers(one) or not _is_bare(number, one, accounted, contrast, usual):
                continue
            found.append(
                Departure(
                    contour=number + 1,
                    points_mm=one.drawn_mm,
                    printed_mm=one.printed_mm,
                    length_mm=len(run) * FOLLOW_MM,
                    departure_mm=float(np.percentile(np.abs(contour.departure_mm[run]), CREST)),
                )
            )
    return sorted(found, key=lambda departure: -departure.departure_mm * departure.length_mm)


def far_runs(departure_mm: Floats) -> list[Index]:
    """Return the points of each stretch that lies aside to one side, steadily."""
    runs = []
    for sign in (-1.0, 1.0):
        at = np.flatnonzero(sign * departure_mm > DEPARTS_MM)
        broken = (np.diff(at) > UNSEEN_POINTS + 1) | (np.abs(np.diff(departure_mm[at])) > STEADY_MM)
        for run in np.split(at, np.flatnonzero(broken) + 1):
            if len(run) and (run[-1] - run[0] + 1) * FOLLOW_MM >= SHORTEST_MM:
                runs.append(run)
    return runs


def weighed(number: int, contour: Contour, run: Index, accounted: Accounted) -> Stretch:
    """Return a stretch of a contour with what speaks for and against it."""
    drawn, normals = drawn_place(contour)[run], contour.normals[run]
    printed = drawn + contour.departure_mm[run, None] * normals
    first, last = (_side(contour.departure_mm, int(end), step) for end, step in ((run[0], -1), (run[-1], 1)))
    # Where its pencil is lost among other lines, another piece of it may run back.
    if first == "ends" and accounted.runs_on(number, contour, at_start=True):
        first = "joins"
    if last == "ends" and accounted.runs_on(number, contour, at_start=False):
        last = "joins"
    hatched = 0.0 if contour.hatches else float(accounted.is_hatching(printed, normals, ON_LINE_MM).mean())
    shared = float(accounted.by_others(number, printed, normals).mean())
    share = len(run) / len(contour.departure_mm)
    return Stretch(run, drawn, printed, normals, (first, last), share, shared, hatched)


def hangs(one: Stretch) -> bool:
    """Return whether a stretch hangs together with its contour.

    A drawn line that was never engraved meets other lines by chance: such a stretch neither runs back to a place
    where the print follows, nor is most of its line, nor longer than the flanks that its distance asks for.
    """
    length = len(one.run) * FOLLOW_MM
    aside = float(np.percentile(np.hypot(*(one.printed_mm - one.drawn_mm).T), CREST))
    if length < 2 * (aside - DEPARTS_MM) / STEEPEST:
        return False
    if aside < LEAST_MM:
        return False
    joins = one.sides.count("joins")
    long = length >= max(WHOLE_MM, WHOLE_RATIO * aside) and one.shared < WHOLE_SHARED
    if one.share >= ALL_SHARE:
        return joins == 2 or long
    if set(one.sides) <= {"joins", "jumps"} or (joins and "lost" not in one.sides):
        return True
    return (joins > 0 or one.share > WHOLE_SHARE) and long


def is_anothers(one: Stretch) -> bool:
    """Return whether the printed line of a stretch is another drawn line's, or hatching."""
    shared_most = BOTH_SHARED if set(one.sides) <= {"joins", "jumps"} else MOSTLY
    return one.hatched > HATCHED_SHARE or one.shared > shared_most


def _is_bare(
    number: int, one: Stretch, accounted: Accounted, contrast: Contrast | None, usual: float
) -> bool:
    """Return whether the print shows no line where the drawing has a stretch, as far as others let it be seen."""
    if contrast is None:
        return True
    free = ~accounted.by_others(number, one.drawn_mm, one.normals, BESIDE_MM)
    if free.mean() < SEEN_SHARE:
        return False
    free &= ~accounted.beside_hatching(one.drawn_mm, one.normals, HATCHED_MM)
    runs_back = "joins" in one.sides and one.share < UNSEEN_SHARE and len(one.run) * FOLLOW_MM >= UNSEEN_MM
    if free.mean() < SEEN_SHARE and not runs_back:
        return False
    if free.sum() < 2:
        return True
    stands_out = contrast(one.drawn_mm[free], one.normals[free]) > PRINTED_SHARE * usual
    return bool(stands_out.mean() <= PRINTED_MOSTLY)


def _usual_contrast(contours: Sequence[Contour], contrast: Contrast | None) -> float:
    """Return how the print stands out along drawn lines that it follows, the median."""
    if contrast is None:
        return 0.0
    read = []
    for contour in contours:
        follows = np.flatnonzero(np.abs(contour.departure_mm) <= DEPARTS_MM)
        if len(follows) > 1:
            read.append(contrast(drawn_place(contour)[follows], contour.normals[follows]))
    return float(np.median(np.concatenate(read))) if read else 0.0


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
