"""From readings on all pulls to changes: each stretch of line is judged on every pair of pulls."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Mask
from proofkit.states.alone import SHORTEST_LOAD_ALONE_MM, is_grain, shortest_mm
from proofkit.states.evidence import (
    ABSENT,
    CLEAR_SHARE,
    EDGE_OF_CHANGE,
    HALF_GONE,
    MOSTLY,
    Readings,
    are_single,
    dips_of,
    readings_of,
    said_of,
    taken_share,
)
from proofkit.states.shadows import FoundChange, is_but_a_shadow
from proofkit.states.strokes import with_pieces
from proofkit.states.types import Change, SharedLines
from proofkit.units import UM_PER_MM

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

LEAST_LOAD_UM = 6.0
"""Fainter lines are grain of the paper. [µm]"""

LEAST_HIDDEN_LOAD_UM = 10.0
"""... or remains of laying, where a stroke is seen in the difference of two sheets only. [µm]"""


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
    readings = readings_of(shared)
    with np.errstate(invalid="ignore", divide="ignore"):
        a, b = readings.before.mean(axis=0), readings.after.mean(axis=0)
        ratio = b / a
    least_a = np.fmin(np.fmin(a, readings.dips_before.mean(axis=0)), readings.taken_before.mean(axis=0))
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


def stretches(mask: Mask, shared: SharedLines) -> list[npt.NDArray[np.intp]]:
    """Return the points of each stretch of marked points along a line; short breaks are bridged."""
    line = shared.lines.lines.line
    at = np.flatnonzero(mask)
    if not len(at):
        return []
    cut = (np.diff(at) > BRIDGE_POINTS + 1) | (np.diff(line[at]) != 0)
    return [np.arange(part[0], part[-1] + 1) for part in np.split(at, np.flatnonzero(cut) + 1)]


def _judged(stretch: npt.NDArray[np.intp], readings: Readings) -> Change | None:
    """Return the change of one stretch, doubtful when not all pairs of pulls agree on it; None for no change."""
    shared = readings.shared
    length = float(shared.lines.lines.length_mm[stretch].sum())
    if length < SHORTEST_PIECE_MM or (length < END_MM and _is_an_end(stretch, shared)):
        return None
    said = said_of(stretch, readings, length)
    if said is None:
        return None
    kind, doubt, a, b = said
    own = float(np.nanmedian(shared.lines.load_um[stretch]))
    hidden = float(shared.hidden[stretch].mean()) > MOSTLY
    if hidden:
        # Crossings read the hatching that runs beside it.
        own = (
            taken_share(stretch, shared) * float(np.median(shared.lines.spans.width_mm[stretch])) * UM_PER_MM
        )
    is_faint = own * max(a.min(), b.min()) < (LEAST_HIDDEN_LOAD_UM if hidden else LEAST_LOAD_UM)
    is_load = kind in {"deepened", "lightened"}
    is_clear = float(shared.lines.clear[stretch].mean()) > CLEAR_SHARE
    usual = SHORTEST_LOAD_ALONE_MM if are_single(readings) else SHORTEST_LOAD_MM
    is_short = is_load and length < (usual if is_clear else SHORTEST_LOAD_CROSSED_MM)
    loads = own * float(np.median(a)), own * float(np.median(b))
    is_small = is_load and are_single(readings) and is_grain(loads, dips_of(stretch, readings))
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


def _is_piece(change: Change, stretch: npt.NDArray[np.intp], readings: Readings) -> bool:
    """Return whether a change is too short to be told by itself, and may be a piece of a longer stroke only."""
    alone = SHORTEST_MM
    if are_single(readings):
        is_clear = float(readings.shared.lines.clear[stretch].mean()) > CLEAR_SHARE
        alone = shortest_mm(is_clear=is_clear)
    hidden = float(readings.shared.hidden[stretch].mean()) > MOSTLY
    return change.length_mm < max(alone, SHORTEST_HIDDEN_MM if hidden else 0.0)


def _is_an_end(stretch: npt.NDArray[np.intp], shared: SharedLines) -> bool:
    """Return whether a stretch is an end of a longer line rather than all of it or a part within."""
    line = shared.lines.lines.line
    first, last = stretch[0], stretch[-1]
    starts = first == 0 or line[first - 1] != line[first]
    ends = last == line.size - 1 or line[last + 1] != line[last]
    return bool(starts != ends)
