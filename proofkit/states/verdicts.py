"""From readings on all pulls to changes: each stretch of line is judged on every pair of pulls."""

import warnings
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Mask
from proofkit.states.alone import LEAST_DIP_ALONE, SHORTEST_LOAD_ALONE_MM, is_grain, shortest_mm
from proofkit.states.gains import brought_to_base, scatter
from proofkit.states.shadows import FoundChange, is_but_a_shadow
from proofkit.states.strokes import with_pieces
from proofkit.states.types import Change, ChangeKind, SharedLines

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

SHORTEST_MM = 0.6
"""Shortest stretch of line that is judged: four crossings. [mm]"""

SHORTEST_PIECE_MM = 0.3
"""Shortest piece that counts where it runs on in a longer stroke of its kind, beyond a line that crosses. [mm]"""

SHORTEST_HIDDEN_MM = 1.0
"""Shortest stretch that is seen in the difference of two sheets only. [mm]"""

SHORTEST_LOAD_MM = 1.8
"""Shortest stretch that is called deepened or lightened: twelve crossings; of 1.2 to 1.6 mm, pulls of one state show
some that differ by a third (simulated pairs). [mm]"""

SHORTEST_LOAD_CROSSED_MM = 2.5
"""... where it is crossed so densely that only its mean darkness is known. [mm]"""

END_MM = 1.0
"""Fine ends of strokes come and go with the ink: a loss or gain shorter than this at the end of a line is none. [mm]"""

BRIDGE_POINTS = 3
"""Breaks of a stretch up to this many points are bridged: less than 0.5 mm."""

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

LEAST_LOAD_UM = 6.0
"""Fainter lines are grain of the paper. [µm]"""

LEAST_HIDDEN_LOAD_UM = 10.0
"""... or remains of laying, where a stroke is seen in the difference of two sheets only. [µm]"""

LEAST_TAKEN = 0.25
"""A stroke that is seen in the difference only takes away this share of the light there: half a usual line's, as the
fill from its sides is blurred. [-]"""

LEFT_TAKEN = 0.15
"""What ink and laying leave takes less (simulated pairs). [-]"""


def find_changes(shared: SharedLines) -> list[Change]:
    """Return all stretches of line that differ between the states in every pair of pulls.

    Parameters
    ----------
    shared : SharedLines

    Notes
    -----
    Stretches are marked by the mean over each state's pulls, then judged on each pull by the median over the stretch:
    what is true of one pull only is a fault of that pull, not a change of the plate.
    """
    relative, dips = brought_to_base(shared)
    is_a = np.array(shared.sides) == "A"
    readings = _Readings(
        shared, relative[is_a], relative[~is_a], dips[is_a], dips[~is_a], scatter(shared, relative)
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        a, b = readings.before.mean(axis=0), readings.after.mean(axis=0)
        ratio = b / a
    least_a = np.fmin(a, readings.dips_before.mean(axis=0))
    least_b = np.fmin(b, readings.dips_after.mean(axis=0))
    both = (a > ABSENT) & (b > ABSENT)
    marks = (
        (a > HALF_GONE) & (least_b < HALF_GONE) & (b < a),
        (b > HALF_GONE) & (least_a < HALF_GONE) & (a < b),
        both & (ratio > EDGE_OF_CHANGE),
        both & (ratio < 1 / EDGE_OF_CHANGE),
    )
    found: list[FoundChange] = []
    taken = shared.mesh.copy()
    for mask in marks:
        for stretch in stretches(mask & ~taken, shared):
            change = _judged(stretch, readings)
            if change is not None:
                taken[stretch] = True
                found.append(FoundChange(change, stretch, _is_piece(change, stretch, readings)))
    return with_pieces(
        [one.change for one in found if not one.is_piece and not is_but_a_shadow(one, found, shared)],
        [one.change for one in found if one.is_piece],
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Readings:
    shared: SharedLines
    before: Floats
    """(pulls of A, n) load against where the line was found."""
    after: Floats
    dips_before: Floats
    """(pulls of A, n) the same by mean darkness along the line."""
    dips_after: Floats
    scatter: Floats
    """(n,) natural scatter of such readings over a millimetre, natural log."""


def stretches(mask: Mask, shared: SharedLines) -> list[npt.NDArray[np.intp]]:
    """Return the points of each stretch of marked points along a line; short breaks are bridged."""
    line = shared.lines.lines.line
    at = np.flatnonzero(mask)
    if not len(at):
        return []
    cut = (np.diff(at) > BRIDGE_POINTS + 1) | (np.diff(line[at]) != 0)
    return [np.arange(part[0], part[-1] + 1) for part in np.split(at, np.flatnonzero(cut) + 1)]


def _judged(stretch: npt.NDArray[np.intp], readings: _Readings) -> Change | None:
    """Return the change of one stretch, doubtful when not all pairs of pulls agree on it; None for no change."""
    shared = readings.shared
    length = float(shared.lines.lines.length_mm[stretch].sum())
    if length < SHORTEST_PIECE_MM or (length < END_MM and _is_an_end(stretch, shared)):
        return None
    said = _said(stretch, readings, length)
    if said is None:
        return None
    kind, doubt, a, b = said
    own = float(np.nanmedian(shared.lines.load_um[stretch]))
    hidden = float(shared.hidden[stretch].mean()) > MOSTLY
    is_faint = own * max(a.min(), b.min()) < (LEAST_HIDDEN_LOAD_UM if hidden else LEAST_LOAD_UM)
    is_load = kind in {"deepened", "lightened"}
    is_clear = float(shared.lines.clear[stretch].mean()) > CLEAR_SHARE
    usual = SHORTEST_LOAD_ALONE_MM if _are_single(readings) else SHORTEST_LOAD_MM
    is_short = is_load and length < (usual if is_clear else SHORTEST_LOAD_CROSSED_MM)
    loads = own * float(np.median(a)), own * float(np.median(b))
    is_small = is_load and _are_single(readings) and is_grain(loads, _dips(stretch, readings))
    if is_faint or is_short or is_small or (hidden and is_load):
        return None
    return Change(
        kind=kind,
        points_mm=shared.lines.lines.points_mm[stretch],
        length_mm=length,
        width_mm=float(np.nanmedian(shared.lines.spans.width_mm[stretch])),
        load_before_um=loads[0],
        load_after_um=loads[1],
        doubt=doubt,
    )


def _dips(stretch: npt.NDArray[np.intp], readings: _Readings) -> tuple[float, float]:
    before, after = (_medians(row, stretch) for row in (readings.dips_before, readings.dips_after))
    return float(np.median(before)), float(np.median(after))


def _are_single(readings: _Readings) -> bool:
    return len(readings.before) * len(readings.after) == 1


def _is_piece(change: Change, stretch: npt.NDArray[np.intp], readings: _Readings) -> bool:
    """Return whether a change is too short to be told by itself, and may be a piece of a longer stroke only."""
    alone = SHORTEST_MM
    if _are_single(readings):
        is_clear = float(readings.shared.lines.clear[stretch].mean()) > CLEAR_SHARE
        alone = shortest_mm(is_clear=is_clear)
    hidden = float(readings.shared.hidden[stretch].mean()) > MOSTLY
    return change.length_mm < max(alone, SHORTEST_HIDDEN_MM if hidden else 0.0)


def _said(
    stretch: npt.NDArray[np.intp], readings: _Readings, length_mm: float
) -> tuple[ChangeKind, str, Floats, Floats] | None:
    """Return what all pulls say of a stretch: kind, doubt, and the readings before and after."""
    a, b = _medians(readings.before, stretch), _medians(readings.after, stretch)
    dips = _medians(readings.dips_before, stretch), _medians(readings.dips_after, stretch)
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        return None
    if readings.shared.is_difference[stretch[0]]:
        return _said_in_difference(stretch, readings.shared, (a, b), dips)
    is_clear = readings.shared.lines.clear[stretch].mean() > CLEAR_SHARE
    noise = float(np.median(readings.scatter[stretch])) / np.sqrt(max(length_mm / SCATTER_MM, 1.0))
    least = max(np.log(CHANGE if is_clear else CHANGE_CROSSED), np.log(EDGE_OF_CHANGE) + SIGMAS * noise)
    absent = ABSENT if is_clear else ABSENT_CROSSED
    kind = _kind(a, b, absent, float(np.exp(least)))
    if kind not in {"added", "removed"}:
        grows = float(np.median(b)) > float(np.median(a))
        own_dip = float(np.median(readings.shared.dip[readings.shared.found_on[stretch], stretch]))
        is_seen = own_dip > LEAST_DIP_ALONE or not _are_single(readings)
        if is_seen and _kind(*dips, ABSENT_CROSSED, np.inf) == ("added" if grows else "removed"):
            kind, a, b = ("added" if grows else "removed"), *dips
    if kind is not None:
        return kind, "", a, b
    return _doubtful(a, b, absent)


def _said_in_difference(
    stretch: npt.NDArray[np.intp],
    shared: SharedLines,
    loads: tuple[Floats, Floats],
    dips: tuple[Floats, Floats],
) -> tuple[ChangeKind, str, Floats, Floats] | None:
    """Return what is said of a stroke that was found in the difference of two pulls.

    It came or went, or is none. Crossings are believed where they say so; over hatching that runs beside it they read
    the hatching, and the difference decides if it is large: the pull that lacks a stroke reads 0 there by its own
    making.
    """
    taken = float(np.median(shared.dip[shared.found_on[stretch], stretch]))
    is_hidden = float(shared.hidden[stretch].mean()) > MOSTLY
    by_load = _kind(*loads, ABSENT, np.inf)
    if by_load is not None and (taken > LEFT_TAKEN or not is_hidden):
        return by_load, "", *loads
    if taken < LEAST_TAKEN or not is_hidden:
        return None
    by_dip = _kind(*dips, ABSENT_CROSSED, np.inf)
    return (by_dip, "", *dips) if by_dip is not None else _doubtful(*dips, ABSENT_CROSSED)


def _doubtful(a: Floats, b: Floats, absent: float) -> tuple[ChangeKind, str, Floats, Floats] | None:
    """Return a doubtful change where most pairs of pulls say that a line came or went, and none the reverse."""
    usual = _kind(np.median(a, keepdims=True), np.median(b, keepdims=True), absent, np.inf)
    if usual is None or a.size * b.size == 1:
        return None
    pairs = [(x, y) for x in a for y in b]
    agree = sum(_kind(np.array([x]), np.array([y]), absent, np.inf) == usual for x, y in pairs)
    if any((y > x) != (usual == "added") for x, y in pairs):
        return None
    return "doubtful", f"{usual} by {agree} of {len(pairs)} pairs of pulls", a, b


def _medians(readings: Floats, stretch: npt.NDArray[np.intp]) -> Floats:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # a pull whose scan ends here has nothing to say
        return np.asarray(np.nanmedian(readings[:, stretch], axis=1))


def _is_an_end(stretch: npt.NDArray[np.intp], shared: SharedLines) -> bool:
    """Return whether a stretch is an end of a longer line rather than all of it or a part within."""
    line = shared.lines.lines.line
    first, last = stretch[0], stretch[-1]
    starts = first == 0 or line[first - 1] != line[first]
    ends = last == line.size - 1 or line[last + 1] != line[last]
    return bool(starts != ends)


def _kind(a: Floats, b: Floats, absent: float, change: float) -> ChangeKind | None:
    """Return what happened to a line that has loads `a` before and `b` after, if every pair of pulls says so."""
    if a.min() > PRESENT and b.max() < absent:
        return "removed"
    if b.min() > PRESENT and a.max() < absent:
        return "added"
    if min(a.max(), b.max()) < absent:
        return None
    if b.min() > change * a.max():
        return "deepened"
    if a.min() > change * b.max():
        return "lightened"
    return None
