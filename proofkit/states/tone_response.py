"""What a sheet would show of another one's work, were nothing changed: film and ink taken out, tone by tone.

More ink makes lines broader, more film makes gaps darker: in the difference of two pulls of one state every gap of
hatching is then a line. But both act alike on like tones near by, the blurred edges of lines among them, so that the
one sheet's light foretells the other's.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.ndimage import map_coordinates

from proofkit.arrays import Floats, Picture
from proofkit.laying.rectify import Box, plate_box, rectify
from proofkit.laying.reference import BAND_ROWS
from proofkit.measures.types import LaidSheet

TILE_MM = 4.0
"""Ink and film of a pull wander over centimetres; so large a tile still holds every tone of its hatching (choice of
ours). [mm]"""

PITCH_MM = 0.06
"""Cells whose light is gathered: four thousand in a tile. [mm]"""

LEVELS = 24
"""Levels of light, as the edge of a line has; straight between them."""

CODES = 128
"""Steps in which the other sheet's light is counted."""

LIGHTEST = 1.25
"""Lightest place that is told from lighter ones: film of a pull may be wiped cleaner than its margin. R/Rp [-]"""

WHOLE_CELLS = 60.0
"""The whole sheet has as much say as so many cells of a tile, so that rare tones are not foretold from a stroke that
changed."""


@dataclass(frozen=True, slots=True, eq=False)
class ToneResponse:
    """Light of one sheet where another has a given light."""

    light: Floats
    """(rows, columns, levels) over tiles of the plate and the other sheet's light. R/Rp [-]"""
    size_mm: tuple[float, float]
    """Width and height of the plate."""


def light_of(sheet: LaidSheet, box: Box) -> Picture:
    """Return R/Rp on the cells of a box; 1 outside the scan."""
    picture = rectify(sheet.scan.plane, sheet.laying, box)
    return np.asarray(np.nan_to_num(picture / np.float32(sheet.paper.luminance), nan=1.0))


def tone_response(sheet: LaidSheet, other: LaidSheet, size_mm: tuple[float, float]) -> ToneResponse:
    """Return the usual light of a sheet for each light of another one, tile by tile.

    Parameters
    ----------
    sheet, other : LaidSheet
        The one that is foretold, and the one that is known.
    size_mm : tuple
        Width and height of the plate. [mm]

    Notes
    -----
    Medians, so that strokes that only one of them has say nothing.
    """
    rows, columns = (max(round(side / TILE_MM), 1) for side in size_mm[::-1])
    counts = np.zeros(rows * columns * LEVELS * CODES)
    box = plate_box(*size_mm, PITCH_MM)
    x = np.arange(box.columns) * PITCH_MM / size_mm[0] * columns
    across = np.minimum(x.astype(np.intp), columns - 1)
    for top in range(0, box.rows, BAND_ROWS):
        height = min(BAND_ROWS, box.rows - top)
        band = Box(box.x0_mm, box.y0_mm + top * PITCH_MM, box.columns, height, PITCH_MM)
        y = (top + np.arange(height)) * PITCH_MM / size_mm[1] * rows
        tile = np.minimum(y.astype(np.intp), rows - 1)[:, None] * columns + across
        level = _step(light_of(other, band), 1.0, LEVELS)
        code = _step(light_of(sheet, band), LIGHTEST, CODES)
        at = (tile * LEVELS + level) * CODES + code
        counts += np.bincount(at.ravel(), minlength=counts.size)
    tiles = counts.reshape(rows, columns, LEVELS, CODES)
    whole = tiles.sum(axis=(0, 1))
    share = whole / np.maximum(whole.sum(axis=1, keepdims=True), 1)
    return ToneResponse(_medians(tiles + WHOLE_CELLS * share) * LIGHTEST / CODES, size_mm)


def foretold(light: Picture, box: Box, response: ToneResponse) -> Picture:
    """Return the light that a sheet would have on a box where the other one has `light`."""
    rows, columns, levels = response.light.shape
    width, height = response.size_mm
    y = (box.y0_mm + np.arange(box.rows) * box.pitch_mm) / height * rows - 0.5
    x = (box.x0_mm + np.arange(box.columns) * box.pitch_mm) / width * columns - 0.5
    place = np.empty((3, *light.shape), dtype=np.float32)
    place[0], place[1] = np.clip(y, 0, rows - 1)[:, None], np.clip(x, 0, columns - 1)
    place[2] = np.clip(light * levels - 0.5, 0, levels - 1)
    return np.asarray(map_coordinates(response.light, place, output=np.float32, order=1, mode="nearest"))


def _step(values: Picture, largest: float, count: int) -> npt.NDArray[np.intp]:
    return np.asarray(np.clip(values / largest * count, 0, count - 1), dtype=np.intp)


def _medians(counts: Floats) -> Floats:
    """Return the median along the last axis of counted steps, straight within a step."""
    upto = np.cumsum(counts, axis=-1)
    half = upto[..., -1:] / 2
    at = (upto < half).sum(axis=-1, keepdims=True)
    here = np.take_along_axis(counts, at, -1)
    before = np.take_along_axis(upto, at, -1) - here
    return np.asarray((at + (half - before) / np.maximum(here, 1e-9))[..., 0])
