"""Changes of load that are but the ground of a line beside that changed the other way."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from proofkit.states.types import Change, SharedLines

SHADOW_MM = 0.5
"""Lines further apart do not darken each other's ground. [mm]"""

SHADOW_GAP_MM = 0.25
"""A neighbour may grow into so wide a gap that the ground in it is dark. [mm]"""

SHADOW_LOG = 0.5
"""That takes up to two fifths of a line's load (simulated pairs). [natural log]"""

GLEAM_GAP_MM = 0.08
"""Where a neighbour shrinks, only the blur in a narrow gap gets less. [mm]"""

GLEAM_LOG = 0.3
"""That adds up to a third to a line's load (simulated pairs). [natural log]"""

BESIDE_SINE = 0.42
"""Lines within 25 degrees run beside each other, as everywhere."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundChange:
    """A change and the points of the line on which it was found."""

    change: Change
    stretch: npt.NDArray[np.intp]


def is_shadow(one: FoundChange, found: Sequence[FoundChange], shared: SharedLines) -> bool:
    """Return whether a change of load is but the ground of a line beside it that changed the other way.

    A line that grows darkens the gap to its neighbour, which then seems to stand out less, and the reverse.
    """
    if one.change.kind not in {"deepened", "lightened"}:
        return False
    spans = shared.lines.spans
    gap = float(np.median(np.fmin(spans.gap_left_mm, spans.gap_right_mm)[one.stretch]))
    log = float(np.log(one.change.load_after_um / one.change.load_before_um))
    if not (gap < SHADOW_GAP_MM and -SHADOW_LOG < log < 0) and not (
        gap < GLEAM_GAP_MM and 0 < log < GLEAM_LOG
    ):
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


def _gain_um(change: Change) -> float:
    return change.load_after_um - change.load_before_um
