"""What all pulls say of one stretch of line: whether it came or went, and whether it carries more or less ink."""

import warnings
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats
from proofkit.states.alone import LEAST_DIP_ALONE
from proofkit.states.gains import brought_to_base, scatter
from proofkit.states.types import ChangeKind, SharedLines

ABSENT = 0.15
"""A line with less than this share of its load is not there: burnished places keep 0 to 0.1 (simulated pairs). [-]"""

PRESENT = 0.6
"""A line with more than this share is there, also on a dry pull. [-]"""

HALF_GONE = 0.45
"""Where a line that is there on one state ends on the other. [-]"""

CHANGE = 1.2
"""A stroke that carries this much more ink than its neighbours gained is deepened. Lines of one state scatter by 3 to
5 % about their neighbours over 2 mm (simulated pairs, ink ±15 %), by hand perhaps twice that (choice of ours). [-]"""

EDGE_OF_CHANGE = 1.1
"""Where a deepened or lightened stretch begins. [-]"""

CHANGE_CROSSED = 1.4
"""... where it is crossed so densely that only its mean darkness is known. [-]"""

ABSENT_CROSSED = 0.3
"""Like `ABSENT` there. [-]"""

MOSTLY = 0.5
"""Share of a stretch that speaks for all of it."""

CLEAR_SHARE = 0.25
"""Share of clear crossings from which loads decide rather than mean darkness. [-]"""

SIGMAS = 3.0
"""A change of load stands out from what lines of like load scatter by so many standard deviations."""

SCATTER_MM = 1.5
"""Readings this far apart along a line scatter on their own. [mm]"""

LEAST_TAKEN = 0.25
"""A stroke that is seen in the difference only takes away this share of the light there: half a usual line's, as the
fill from its sides is blurred. [-]"""

LEAST_DARKENING = 0.05
"""Where lines cross densely a line is deepened if it got darker by so much against its sides: rows of crossings, a
twentieth darker than what lies beside, change by a hundredth from pull to pull (simulated pairs). R/Rp [-]"""

LEFT_TAKEN = 0.15
"""What ink and laying leave takes less (simulated pairs). [-]"""


Said: TypeAlias = tuple[ChangeKind, str, Floats, Floats]
"""Kind, doubt, and the readings before and after on which that rests."""


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """The lines of both states on all pulls, each against the pull where it was found: 1 = as deep, 0 = gone."""

    shared: SharedLines
    before: Floats
    """(pulls of A, n) by loads, or by mean darkness where no crossing is clear."""
    after: Floats
    dips_before: Floats
    """(pulls of A, n) by mean darkness along the line."""
    dips_after: Floats
    taken_before: Floats
    """(pulls of A, n) by the light that it takes from the first pull of A, of new lines that take enough; else NaN."""
    taken_after: Floats
    scatter: Floats
    """(n,) natural scatter of loads over a millimetre, natural log."""


def readings_of(shared: SharedLines) -> Readings:
    """Return what all pulls say of the lines of both states, freed of what ink changes."""
    relative, dips = brought_to_base(shared)
    own = shared.taken[shared.found_on, np.arange(shared.found_on.size)]
    speaks = (own > LEAST_TAKEN) & ~shared.is_difference
    taken = np.clip(shared.taken / np.where(speaks, own, np.nan), -1.0, 5.0)
    is_a = np.array(shared.sides) == "A"
    return Readings(
        shared, relative[is_a], relative[~is_a], dips[is_a], dips[~is_a], taken[is_a], taken[~is_a],
        scatter(shared, relative),
    )  # fmt: skip


def kind_of(
    a: Floats, b: Floats, absent: float, change: float, present: float = PRESENT
) -> ChangeKind | None:
    """Return what happened to a line that has loads `a` before and `b` after, if every pair of pulls says so."""
    if a.min() > present and b.max() < absent:
        return "removed"
    if b.min() > present and a.max() < absent:
        return "added"
    if min(a.max(), b.max()) < absent:
        return None
    if b.min() > change * a.max():
        return "deepened"
    if a.min() > change * b.max():
        return "lightened"
    return None


def said_of(stretch: npt.NDArray[np.intp], readings: Readings, length_mm: float) -> Said | None:
    """Return what all pulls say of a stretch; None for nothing.

    Parameters
    ----------
    stretch : (m,) array
        Points of one line.
    readings : Readings
    length_mm : float
        Length of the stretch. [mm]
    """
    a, b = _medians(readings.before, stretch), _medians(readings.after, stretch)
    dips = _medians(readings.dips_before, stretch), _medians(readings.dips_after, stretch)
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        return None
    if readings.shared.is_difference[stretch[0]]:
        return _said_in_difference(stretch, readings.shared, (a, b), dips)
    is_clear = readings.shared.lines.clear[stretch].mean() > CLEAR_SHARE
    absent = ABSENT if is_clear else ABSENT_CROSSED
    kind = kind_of(a, b, absent, CHANGE if is_clear else CHANGE_CROSSED)
    if kind in {"added", "removed"}:
        return kind, "", a, b
    came_or_went = _came_or_went(stretch, readings, dips, grows=float(np.median(b)) > float(np.median(a)))
    if came_or_went is not None:
        return came_or_went
    is_seen = is_clear or _is_darker(stretch, readings.shared, dips)
    if kind is not None and is_seen and _stands_out(stretch, readings, length_mm, (a, b)):
        return kind, "", a, b
    return _doubtful(a, b, absent)


def _came_or_went(
    stretch: npt.NDArray[np.intp], readings: Readings, dips: tuple[Floats, Floats], *, grows: bool
) -> Said | None:
    """Return that a line came or went where its mean darkness says so, or the light that a new one takes.

    Where lines cross densely the rows of their crossings stand for a line on the state that lacks it; the light of
    that state itself is not mistaken.
    """
    shared = readings.shared
    own_dip = float(np.median(shared.dip[shared.found_on[stretch], stretch]))
    kind: ChangeKind = "added" if grows else "removed"
    is_seen = own_dip > LEAST_DIP_ALONE or not are_single(readings)
    if is_seen and kind_of(*dips, ABSENT_CROSSED, np.inf) == kind:
        return kind, "", *dips
    taken = _medians(readings.taken_before, stretch), _medians(readings.taken_after, stretch)
    is_read = all(np.isfinite(one).all() for one in taken)
    return ("added", "", *taken) if is_read and kind_of(*taken, ABSENT_CROSSED, np.inf) == "added" else None


def _is_darker(stretch: npt.NDArray[np.intp], shared: SharedLines, dips: tuple[Floats, Floats]) -> bool:
    """Return whether a line's mean darkness changed by more than grain, not just by much of the little that it has."""
    own = float(np.median(shared.dip[shared.found_on[stretch], stretch]))
    return abs(own * float(np.median(dips[1]) - np.median(dips[0]))) > LEAST_DARKENING


def _stands_out(
    stretch: npt.NDArray[np.intp], readings: Readings, length_mm: float, loads: tuple[Floats, Floats]
) -> bool:
    """Return whether a change of load that every pair of pulls shows stands out from scatter, by all pulls together.

    Scatter is that of two pulls against each other: more pulls of each state bring their mean nearer to the plate.
    """
    alone = float(np.median(readings.scatter[stretch])) / np.sqrt(max(length_mm / SCATTER_MM, 1.0))
    noise = alone * np.sqrt(sum(1 / side.size for side in loads) / 2)
    before, after = (np.log(np.maximum(side, ABSENT)).mean() for side in loads)
    return bool(abs(after - before) > np.log(EDGE_OF_CHANGE) + SIGMAS * noise)


def _said_in_difference(
    stretch: npt.NDArray[np.intp],
    shared: SharedLines,
    loads: tuple[Floats, Floats],
    dips: tuple[Floats, Floats],
) -> Said | None:
    """Return what is said of a stroke that was found in the difference of two pulls.

    It came or went, or is none. Crossings are believed where they say so; over hatching that runs beside it they read
    the hatching, and the difference decides if it is large: the pull that lacks a stroke reads 0 there by its own
    making.
    """
    taken = taken_share(stretch, shared)
    is_hidden = float(shared.hidden[stretch].mean()) > MOSTLY
    by_load = kind_of(*loads, ABSENT, np.inf)
    if by_load is not None and (taken > LEFT_TAKEN or not is_hidden):
        return by_load, "", *loads
    if taken < LEAST_TAKEN:
        return None
    # A pull on which it takes as much as makes a stroke shows it, also if another pull shows twice as much.
    present = min(PRESENT, max(LEAST_TAKEN / taken, HALF_GONE))
    by_dip = kind_of(*dips, ABSENT_CROSSED, np.inf, present)
    return (by_dip, "", *dips) if by_dip is not None else _doubtful(*dips, ABSENT_CROSSED)


def taken_share(stretch: npt.NDArray[np.intp], shared: SharedLines) -> float:
    """Return which share of the light a stroke takes that was found in a difference. [-]"""
    return float(np.median(shared.dip[shared.found_on[stretch], stretch]))


def _doubtful(a: Floats, b: Floats, absent: float) -> Said | None:
    """Return a doubtful change where most pairs of pulls say that a line came or went, and none the reverse."""
    usual = kind_of(np.median(a, keepdims=True), np.median(b, keepdims=True), absent, np.inf)
    if usual is None or a.size * b.size == 1:
        return None
    pairs = [(x, y) for x in a for y in b]
    agree = sum(kind_of(np.array([x]), np.array([y]), absent, np.inf) == usual for x, y in pairs)
    if any((y > x) != (usual == "added") for x, y in pairs):
        return None
    return "doubtful", f"{usual} by {agree} of {len(pairs)} pairs of pulls", a, b


def _medians(readings: Floats, stretch: npt.NDArray[np.intp]) -> Floats:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # a pull whose scan ends here has nothing to say
        return np.asarray(np.nanmedian(readings[:, stretch], axis=1))


def dips_of(stretch: npt.NDArray[np.intp], readings: Readings) -> tuple[float, float]:
    """Return the mean darkness of a stretch before and after, against where it was found."""
    before, after = (_medians(row, stretch) for row in (readings.dips_before, readings.dips_after))
    return float(np.median(before)), float(np.median(after))


def are_single(readings: Readings) -> bool:
    """Return whether one pull of each state has to speak."""
    return len(readings.before) * len(readings.after) == 1
