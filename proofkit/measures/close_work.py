"""Where a scan holds line work so close that its lines cannot be told: what is found there are false lines."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.fft import rfft2

from proofkit.arrays import FULL_SCALE, Floats, Mask, Points
from proofkit.laying.rectify import Box, box_nodes
from proofkit.laying.rectify_kernels import NODE_PX
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan

TILE_PX = 32
"""Side of the tiles whose spectra are looked at. [px]"""

CLOSE_CYCLES = 0.4
"""Waves of more cycles a pixel along rows or columns of the scan are close work: under 2.5 px a line where lines run
along the pixels, closer where they slant. Two pixels a wave is what sampling allows at the least (Shannon 1949)."""

CLOSEST_MM = 0.08
"""... and so is hatching closer than this on scans of any resolution: the picture in which lines are sought loses it
(ruled patches of 1200 and 2400 ppi: 56 to 75 µm a line not found, films 0.14 to 0.3 D too dark). [mm]"""

COARSE_SHARE = 1 / 8
"""Waves slower than this share of the close ones, broad strokes and tones, have no say. [-]"""

CLOSE_SHARE = 0.5
"""Close work is most of what is seen. Of white noise 0.4 lies as high, of resolved hatching a tenth at most. [-]"""

CLOSE_RMS, CLOSE_NOISES = 0.03, 2.0
"""... and is no noise: root mean square against bare paper, and times the scatter of bare paper's pixels. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class CloseWork:
    """Tiles of a scan in which line work is too close."""

    x0: int
    """First pixel of the first tile. [px]"""
    y0: int
    tiles: Mask
    """(rows, columns)."""

    def at(self, points_px: Points) -> Mask:
        """Return which points of the scan lie in such a tile. Shape (n,)."""
        rows, columns = self.tiles.shape
        column, row = (
            np.floor((points_px[:, axis] + 0.5 - start) / TILE_PX).astype(np.intp)
            for axis, start in ((0, self.x0), (1, self.y0))
        )
        within = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
        found = np.zeros(len(points_px), dtype=np.bool_)
        found[within] = self.tiles[row[within], column[within]]
        return found

    def cells(self, laying: Laying, box: Box) -> Mask:
        """Return which cells of a box lie in or beside such a tile, for a sheet that lies so. Shape (rows, columns)."""
        if not self.tiles.any():
            return np.zeros((box.rows, box.columns), dtype=np.bool_)
        nodes, rows, columns = box_nodes(box)
        found = self.at(to_sheet_px(laying, nodes)).reshape(rows, columns)
        found = found[:-1] | found[1:]
        found = found[:, :-1] | found[:, 1:]
        return np.asarray(
            found.repeat(NODE_PX, axis=0).repeat(NODE_PX, axis=1)[: box.rows, : box.columns], dtype=np.bool_
        )


def close_work(scan: Scan, paper: Paper, laying: Laying, plate_mm: tuple[float, float]) -> CloseWork:
    """Return where the line work on a plate is too close for its scan.

    Parameters
    ----------
    scan, paper, laying
        Of the standard.
    plate_mm : tuple
        Width and height of the plate. [mm]

    Notes
    -----
    A ruling whose wave is near two pixels shows as rows of dots and as waves that are not there, and lines are found
    along these. So the question is asked of the scan itself, not of the lines found: most of what waves there are in a
    tile (power under a Hann window) is close.
    """
    w, h = plate_mm
    corners = to_sheet_px(laying, np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))
    size = np.array(scan.plane.shape[::-1])
    low = np.clip(np.floor(corners.min(axis=0)), 0, size).astype(int)
    high = np.clip(np.ceil(corners.max(axis=0)) + 1, low, size).astype(int)
    columns, rows = (int(count) for count in (high - low) // TILE_PX)
    least = min(CLOSE_CYCLES, 1 / (laying.px_per_mm * CLOSEST_MM))
    level = max(paper.luminance, 1e-3) * FULL_SCALE
    tiles = np.zeros((rows, columns), dtype=np.bool_)
    for row in range(rows if columns else 0):
        y = low[1] + row * TILE_PX
        strip = scan.plane[y : y + TILE_PX, low[0] : low[0] + columns * TILE_PX]
        cut = strip.reshape(TILE_PX, columns, TILE_PX).swapaxes(0, 1).astype(np.float32)
        tiles[row] = _close(cut / np.float32(level), least, paper.noise)
    return CloseWork(int(low[0]), int(low[1]), tiles)


def _close(tiles: npt.NDArray[np.float32], least: float, noise: float) -> Mask:
    """Return which tiles (n, `TILE_PX`, `TILE_PX`) of R/Rp hold mostly waves of more than `least` cycles a pixel."""
    window = _window()
    tiles = (tiles - tiles.mean(axis=(1, 2), keepdims=True)) * window
    waves = rfft2(tiles)
    # One half of the spectrum is kept; its inner columns stand for two.
    power = (np.square(waves.real) + np.square(waves.imag)) * _twice()
    cycles = _cycles()
    close = power[:, cycles > least].sum(axis=1)
    seen = power[:, cycles > COARSE_SHARE * least].sum(axis=1)
    rms = np.sqrt(close / (TILE_PX**2 * float(np.square(window).sum())))
    return np.asarray((close > CLOSE_SHARE * seen) & (rms > max(CLOSE_RMS, CLOSE_NOISES * noise)))


def _window() -> npt.NDArray[np.float32]:
    one = np.hanning(TILE_PX + 2)[1:-1].astype(np.float32)
    return np.asarray(one[:, None] * one)


def _cycles() -> Floats:
    """Return the cycles a pixel of each place in a tile's spectrum, along rows or columns, whichever are more."""
    along, across = np.abs(np.fft.fftfreq(TILE_PX)), np.fft.rfftfreq(TILE_PX)
    return np.asarray(np.maximum(along[:, None], across))


def _twice() -> npt.NDArray[np.float32]:
    once = np.full(TILE_PX // 2 + 1, 2, dtype=np.float32)
    once[[0, -1]] = 1
    return once
