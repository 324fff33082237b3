"""Whether a sheet that was laid on the base shows the same copper, or a copy of the same picture."""

import numpy as np

from proofkit.arrays import Floats
from proofkit.laying.fine import REACH_MM, REACH_OF_SPACING
from proofkit.laying.standard_lines import StandardLines, read_crossings, smooth_along
from proofkit.measures.types import LaidSheet
from proofkit.scatter import robust_sd
from proofkit.states.types import Likeness

CELL_MM = 4.0
"""Cells in which the lines are looked at: state changes fill some cells and leave others. [mm]"""

LEAST_POINTS = 24
"""A cell with fewer crossings (3.6 mm of line) says nothing."""

NEAR_MM = 0.025
"""A line of the same copper lies this near to its place; laying leaves 2 to 15 µm (simulated sheets), a copyist some
tenths of a millimetre. [mm]"""

SEEN_SHARE = 0.3
"""A line is seen where it has this share of its load. [-]"""

AGREEING_SHARE = 0.7
"""A cell agrees when this share of its crossings is seen in place; a third is by chance (`NEAR_MM` to reach). [-]"""

LEAST_AGREEING = 0.15
"""Share of the cells that agree on a plate of which most was reworked. [-]"""

LEAST_CELLS = 4


def likeness(sheet: LaidSheet, lines: StandardLines) -> Likeness:
    """Return how far a laid sheet shows the base's own lines.

    Parameters
    ----------
    sheet : LaidSheet
        Laid as if it showed the same plate.
    lines : StandardLines
        Of the base.

    Notes
    -----
    A copy has the same picture and tones, so it can be laid; but its strokes lie beside those of the plate, in no
    order. Work of a new state leaves whole passages in place to a hundredth of a millimetre.
    """
    used = np.flatnonzero(lines.clear & (lines.load_um > 0))
    reach = np.minimum(REACH_MM, REACH_OF_SPACING * lines.spacing_mm)
    values = read_crossings(sheet.scan.plane, sheet.paper, sheet.laying, lines.places, sheet.blur_mm, reach)
    # Outside the scan there is no reading at all; a line that does not print has one of about 0.
    inside = np.isfinite(values.load_um)
    seen = inside & (values.load_um > SEEN_SHARE * lines.load_um * _ink(values.load_um, lines))
    offset = smooth_along(np.where(seen & lines.clear, values.offset_mm, np.nan), lines.lines.line, 2)
    near = np.abs(offset) < NEAR_MM
    used = used[inside[used]]
    known = offset[used][np.isfinite(offset[used])]
    misfit = robust_sd(known, about=0) if known.size else float("nan")
    agreeing, cells = _cells(lines, used, near)
    share = agreeing / cells if cells else 0.0
    return Likeness(
        agreeing_fraction=share,
        cells=cells,
        misfit_um=1000 * misfit,
        same_plate=agreeing >= min(LEAST_CELLS, max(cells, 1)) and share >= LEAST_AGREEING,
    )


def _ink(load_um: Floats, lines: StandardLines) -> float:
    """Return about how much ink the sheet has against the base, at least a half."""
    strong = np.isfinite(load_um) & (load_um > SEEN_SHARE * lines.load_um) & (lines.load_um > 0)
    if not strong.any():
        return 1.0
    return float(np.clip(np.median(load_um[strong] / lines.load_um[strong]), 0.5, 2.0))


def _cells(lines: StandardLines, used: np.ndarray, near: np.ndarray) -> tuple[int, int]:
    """Return how many cells agree, and how many have lines enough."""
    if not used.size:
        return 0, 0
    cell = np.floor(lines.lines.points_mm[used] / CELL_MM).astype(np.intp)
    cell -= cell.min(axis=0)
    number = cell[:, 1] * (int(cell[:, 0].max()) + 1) + cell[:, 0]
    count = np.bincount(number)
    agree = np.bincount(number, weights=near[used])
    enough = count >= LEAST_POINTS
    return int((agree[enough] > AGREEING_SHARE * count[enough]).sum()), int(enough.sum())
