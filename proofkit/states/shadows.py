"""Changes of load that are but the work of a line beside: one that changed the other way, or one that runs across."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from proofkit.states.tone_areas import LEAST_CHANGE
from proofkit.states.types import Change, SharedLines

SHADOW_MM = 0.5
"""Lines further apart do not darken each other's ground. [mm]"""

SHADOW_GAP_MM = 0.25
"""A neighbour may grow into so wide a gap that the ground in it is dark. [mm]"""

SHADOW_LOG = 0.5
"""That takes up to two fifths of a line's load (simulated pairs). [natural log]"""

NARROW_GAP_MM = 0.1
"""In a gap as narrow as a fine line a neighbour that grows leaves hardly any ground. [mm]"""

NARROW_LOG = 1.5
"""There it takes up to three quarters of a line's load (simulated pairs, nine lines per mm). [natural log]"""

GLEAM_GAP_MM = 0.08
"""Where a neighbour shrinks, only the blur in a narrow gap gets less. [mm]"""

GLEAM_LOG = 0.3
"""That adds up to a third to a line's load (simulated pairs). [natural log]"""

BESIDE_SINE = 0.42
"""Lines within 25 degrees run beside each other, as everywhere."""

HALF = 0.5
"""Share of a stretch from which something is true of all of it."""

FEWEST_HITS = 4
"""Points that a direction is told from."""

OVER_MM = 0.2
"""A new stroke that runs over hatching at a small angle adds to the lines that it lies on: half of both widths. [mm]"""

BESIDE_OVER_MM = 0.4
"""... and takes the ground of those beside: a gap more. [mm]"""

REST_MM = 1.2
"""What changed over so much more line than the stroke lies on changed by itself: the shortest that is judged. [mm]"""

OVER_SLOPE = 0.03
"""It comes nearer or goes away by at least this: two degrees. A line cut between two others keeps its distance. [-]"""

OVER_DRIFT_MM = 0.06
"""... and by this over the stretch: half a fine line. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class FoundChange:
    """A change and the points of the line on which it was found."""

    change: Change
    stretch: npt.NDArray[np.intp]
    is_piece: bool = False
    """Too short to be told by itself."""


def is_but_a_shadow(one: FoundChange, found: Sequence[FoundChange], shared: SharedLines) -> bool:
    """Return whether a change of load is but the work of a line beside it, across it, or of the ground."""
    return is_shadow(one, found, shared) or is_overlaid(one, found, shared) or is_of_the_ground(one, shared)


def is_shadow(one: FoundChange, found: Sequence[FoundChange], shared: SharedLines) -> bool:
    """Return whether a change of load is but the ground of a line beside it that changed the other way.

    A line that grows darkens the gap to its neighbour, which then seems to stand out less, and the reverse.
    """
    if one.change.kind not in {"deepened", "lightened"}:
        return False
    spans = shared.lines.spans
    gap = float(np.median(np.fmin(spans.gap_left_mm, spans.gap_right_mm)[one.stretch]))
    log = float(np.log(one.change.load_after_um / one.change.load_before_um))
    most = NARROW_LOG if gap < NARROW_GAP_MM else SHADOW_LOG
    if not (gap < SHADOW_GAP_MM and -most < log < 0) and not (gap < GLEAM_GAP_MM and 0 < log < GLEAM_LOG):
        return False
    darker = log > 0
    others = [
        other for other in found
        if other is not one and (_gain_um(other.change) > 0) != darker
        and abs(_gain_um(other.change)) > abs(_gain_um(one.change))
    ]  # fmt: skip
    if not others:
        return False
    lines = shared.lines.lines
    at = np.concatenate([other.stretch for other in others])
    reach = float(np.clip(1.3 * np.median(shared.lines.spacing_mm[one.stretch]), 0.2, SHADOW_MM))
    near, which = cKDTree(lines.points_mm[at]).query(lines.points_mm[one.stretch], distance_upper_bound=reach)
    hit = np.isfinite(near)
    other_normal = lines.normals[at[np.where(hit, which, 0)]]
    own_normal = lines.normals[one.stretch]
    sine = np.abs(own_normal[:, 0] * other_normal[:, 1] - own_normal[:, 1] * other_normal[:, 0])
    return bool((hit & (sine < BESIDE_SINE)).mean() > 0.5)


def is_of_the_ground(one: FoundChange, shared: SharedLines) -> bool:
    """Return whether a change of load is but that of the ground: a line on ground that was bitten stands out less.

    Grounds are compared with those of all lines of the same pull, which are film; it takes as much as a changed tone.
    """
    if one.change.kind not in {"deepened", "lightened"}:
        return False
    with np.errstate(invalid="ignore", divide="ignore"):
        tone = np.array(
            [np.nanmedian(-np.log10(row[one.stretch] / np.nanmedian(row))) for row in shared.ground]
        )
    is_a = np.array(shared.sides) == "A"
    darker = tone[~is_a][:, None] - tone[is_a][None, :]
    if one.change.kind == "lightened":
        return bool(darker.min() > LEAST_CHANGE)
    return bool(darker.max() < -LEAST_CHANGE)


def is_overlaid(one: FoundChange, found: Sequence[FoundChange], shared: SharedLines) -> bool:
    """Return whether a change of load is but a stroke that came or went and runs over this line at a small angle."""
    if one.change.kind not in {"deepened", "lightened"}:
        return False
    across = [
        other.stretch for other in found
        if other.change.kind in {"added", "removed", "scratch"} and shared.hidden[other.stretch].mean() > HALF
    ]  # fmt: skip
    if not across:
        return False
    lines, at = shared.lines.lines, np.concatenate(across)
    reach = OVER_MM if one.change.kind == "deepened" else BESIDE_OVER_MM
    near, which = cKDTree(lines.points_mm[at]).query(lines.points_mm[one.stretch], distance_upper_bound=reach)
    hit = np.isfinite(near)
    other = at[np.where(hit, which, 0)]
    own_normal, other_normal = lines.normals[one.stretch], lines.normals[other]
    sine = np.abs(own_normal[:, 0] * other_normal[:, 1] - own_normal[:, 1] * other_normal[:, 0])
    hit &= sine < BESIDE_SINE
    if hit.sum() < FEWEST_HITS or float(lines.length_mm[one.stretch][~hit].sum()) > REST_MM:
        return False
    away = ((lines.points_mm[other] - lines.points_mm[one.stretch]) * own_normal).sum(axis=1)[hit]
    place = np.cumsum(lines.length_mm[one.stretch])[hit]
    slope = float(np.polyfit(place - place.mean(), away, 1)[0])
    return abs(slope) > OVER_SLOPE and abs(slope) * float(np.ptp(place)) > OVER_DRIFT_MM


def _gain_um(change: Change) -> float:
    return change.load_after_um - change.load_before_um
