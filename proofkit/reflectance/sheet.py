"""Which part of a scan is the sheet and which the bed of the scanner, and about how light its paper is."""

from dataclasses import dataclass

import cv2
import numpy as np
from scipy import ndimage

from proofkit.arrays import Floats, Mask
from proofkit.reflectance.kernels import block_moments, luminance_where
from proofkit.scan.types import Scan

BLOCKS_LONG_SIDE = 350
"""Cells along the long side of a sheet when looking for its outline: 1.2 mm on an A3 sheet."""

BLOCKS_FOR_MODE = 200_000
"""About so many blocks tell the lightest tone: a share of 3 % of them to a hundredth of itself."""

LIGHTER = 0.03
"""A difference of level that is more than the unevenness of illumination between neighbours. [log level]"""

BORDER_SHARE = 0.08
"""Least share of the border of the scan that one even tone must fill to be bed or margin. [-]"""

SHEET_SHARE = 0.05
"""Least share of the scan that a sheet fills. [-]"""

EDGE = 0.02
"""Difference of level between neighbouring cells that parts two areas. [log level]"""

DARK = 0.02
"""Added to luminance before the logarithm, so that noise of a black bed is no relief. [-]"""

MOST_GRAIN = 0.008
"""Paper's means over cells of 0.2 to 1.2 mm scatter by 0.2 to 0.4 % (simulated sheets); more is grainy film, and what
lies outside it a margin, no lid. [log level]"""

COARSER = 2.0
"""Paper scatters this many times as much as a lid."""

COARSER_AND_TINTED = 1.4
"""... and by so much when it has another tint as well; film has another tint than its margin, but about its grain."""

NOT_NOISE = 2.0
"""Cells of a lid scatter by 0.9 times the noise of their pixels over the root of their number, those of felt paper
by 1.3 to 2.8 times (simulated sheets)."""

SMOOTH = 0.0008
"""Less scatter than this from cell to cell no paper has; a scanner that clips or smooths its white leaves pixels
without noise. [log level]"""

BLACK = float(np.log(0.15 + DARK))
"""No paper is darker than this. [log level]"""

_DARKEST = 1e-4
_RING = (3, 8)
"""Nearest and farthest cells beyond an even border region that are compared with it: past edge shadow and blur."""

_ALL_ROUND = np.ones((3, 3), dtype=np.uint8)

_EVEN_RING_SHARE = 0.6
_TINT_STEP = 0.012
"""Difference of log(R/G) or log(B/G) that tells two papers or a lid apart; 1 % is about 1 unit of b*. [-]"""

_MODE_WIDTH = 0.05
"""Width of the window that catches one paper with uneven illumination. [log level]"""


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """The overview on a coarser grid."""

    level: Floats
    """(rows, columns) natural logarithm of luminance plus `DARK`."""
    tint: Floats
    """(rows, columns, 2) log(R/G) and log(B/G)."""
    grain: Floats
    """(rows, columns) spread of the level over a cell and its eight neighbours: a lid has none of paper's grain."""
    factor: int
    """Overview blocks along the side of a cell."""


def find_sheet(scan: Scan) -> Mask:
    """Return which blocks of the overview belong to the sheet rather than to the bed of the scanner.

    Parameters
    ----------
    scan : Scan

    Returns
    -------
    Mask
        Of the shape of the overview without its colours; all true when no bed is seen.

    Notes
    -----
    Bed is an even tone that touches the border of the scan. A tone darker than what lies inside it is bed, as no margin
    is darker than its plate. A tone lighter than what lies inside it is the margin of the sheet, unless it is smooth
    while an even ring of coarser grain lies inside it, as paper has it: then a white lid lies round a sheet. Tint alone
    says nothing, since a film of warm ink differs from its margin too.
    """
    cells = _cells(scan)
    bed = np.zeros(cells.level.shape, dtype=bool)
    # A black bed first, then from light to dark, each without what is bed already: a margin that reaches the border
    # must be compared with its plate, not with the lid that lies beyond it.
    levels = [(float(np.median(cells.level[region])), region) for region in _even_border_regions(cells)]
    levels.sort(key=lambda entry: (entry[0] > BLACK, -entry[0]))
    for level, region in levels:
        if _is_bed(scan, cells, region, level, bed):
            bed |= region
    sheet = _main_piece(~ndimage.binary_dilation(bed, structure=_ALL_ROUND))
    if sheet.mean() < SHEET_SHARE:
        sheet = np.ones_like(bed)
    rows, columns = scan.overview.shape[:2]
    return np.asarray(np.repeat(np.repeat(sheet, cells.factor, 0), cells.factor, 1)[:rows, :columns])


def rough_paper(scan: Scan) -> float:
    """Return about how light the bare paper is, before the plate is found.

    Parameters
    ----------
    scan : Scan

    Returns
    -------
    float
        Luminance, the scanner's white = 1: the lightest tone that fills a share of the sheet's even blocks.
    """
    sheet = find_sheet(scan)
    return _lightest_mode(
        luminance_where(scan.overview, sheet, max(1, int(np.sqrt(sheet.size / BLOCKS_FOR_MODE))))
    )


def _lightest_mode(luminance: Floats) -> float:
    """Return the lightest tone that fills at least 3 % of the blocks within 5 %; of noise, the commonest."""
    logs = luminance[np.isfinite(luminance)]
    np.log(np.maximum(logs, _DARKEST, out=logs), out=logs)  # in its own place, as it is large
    if logs.size == 0:
        return 1.0
    step = _MODE_WIDTH / 5
    low, high = float(logs.min()) - _MODE_WIDTH, float(logs.max()) + _MODE_WIDTH
    counts, edges = np.histogram(logs, bins=max(1, int((high - low) / step)), range=(low, high))
    window = np.convolve(counts, np.ones(5), mode="same")
    most = float(window.max())
    enough = window >= min(max(0.03 * logs.size, 0.2 * most), most)
    top = int(np.flatnonzero(enough).max())
    start = max(0, top - 6)
    peak = start + int(np.argmax(window[start : top + 1]))
    middle = (edges[peak] + edges[peak + 1]) / 2
    away = logs - middle
    near = np.abs(away, out=away) < _MODE_WIDTH / 2
    return float(np.exp(np.median(logs[near]))) if near.any() else float(np.exp(middle))


def _luminance(rgb: Floats) -> Floats:
    """Return luminance of linear RGB with the weights of IEC 61966-2-1; only used to compare tones."""
    return np.asarray(rgb[..., 0] * 0.2126 + rgb[..., 1] * 0.7152 + rgb[..., 2] * 0.0722)


def _cells(scan: Scan) -> _Cells:
    """Return the overview in cells; blocks that fill no whole cell at the right and bottom repeat the last ones."""
    rows, columns = scan.overview.shape[:2]
    factor = max(1, round(max(rows, columns) / BLOCKS_LONG_SIDE))
    below, right = -rows % factor, -columns % factor
    padded = cv2.copyMakeBorder(scan.overview, 0, below, 0, right, cv2.BORDER_REPLICATE)
    size = (padded.shape[1] // factor, padded.shape[0] // factor)
    mean = np.maximum(cv2.resize(padded, size, interpolation=cv2.INTER_AREA).astype(np.float64), _DARKEST)
    level = np.log(_luminance(mean) + DARK)
    return _Cells(
        level=level,
        tint=np.log(mean[..., [0, 2]] / mean[..., 1:2]),
        grain=np.sqrt(np.maximum(cv2.blur(level * level, (3, 3)) - cv2.blur(level, (3, 3)) ** 2, 0.0)),
        factor=factor,
    )


def _even_border_regions(cells: _Cells) -> list[Mask]:
    """Return the connected even regions that fill a share of the border of the scan."""
    smooth = cv2.medianBlur(cells.level.astype(np.float32), 3)
    relief = cv2.dilate(smooth, _ALL_ROUND) - cv2.erode(smooth, _ALL_ROUND)
    even = relief < max(EDGE, 4 * float(np.percentile(relief, 25)))
    _, labels = cv2.connectedComponents(even.astype(np.uint8), connectivity=4)
    border = np.concatenate((labels[1], labels[-2], labels[:, 1], labels[:, -2]))
    counts = np.bincount(border)
    counts[0] = 0
    return [labels == label for label in np.flatnonzero(counts >= BORDER_SHARE * border.size)]


def _is_bed(scan: Scan, cells: _Cells, region: Mask, level: float, bed: Mask) -> bool:
    """Return whether an even region at the border is bed, going by what lies inside it beside the known `bed`."""
    if region.mean() > 1 - SHEET_SHARE:
        return False
    near, far = (cv2.dilate(region.view(np.uint8), _ALL_ROUND, iterations=n).view(bool) for n in _RING)
    ring = far & ~near & ~bed
    if not ring.any():
        return False
    inside = float(np.median(cells.level[ring]))
    if inside > level + LIGHTER:
        return True
    even = ring & (np.abs(cells.level - inside) < _MODE_WIDTH)
    if inside > level - LIGHTER / 2 or even.sum() < _EVEN_RING_SHARE * ring.sum():
        return False
    grain = float(np.median(cells.grain[even])) / max(float(np.median(cells.grain[region])), 1e-6)
    tint_step = np.abs(np.median(cells.tint[region], axis=0) - np.median(cells.tint[even], axis=0)).max()
    is_paper = float(np.median(cells.grain[even])) < MOST_GRAIN
    is_coarser = grain > COARSER or (tint_step > _TINT_STEP and grain > COARSER_AND_TINTED)
    return bool((is_paper and is_coarser and _is_smooth(scan, cells, region)) or np.exp(level) - DARK > 0.995)


def _is_smooth(scan: Scan, cells: _Cells, region: Mask) -> bool:
    """Return whether a region scatters from cell to cell hardly more than the noise of its pixels leaves."""
    side = scan.overview_step * cells.factor
    rows, columns = (n // side for n in scan.plane.shape)
    some = np.array(region[:rows, :columns])
    some[1::2] = False
    some[:, 1::2] = False
    mean, deviation = block_moments(scan.plane, some, side)
    if not some.any():
        return False
    noise = float(np.median(deviation[some] / np.maximum(mean[some], 1.0)))
    return float(np.median(cells.grain[region])) < max(NOT_NOISE * noise / side, SMOOTH)


def _main_piece(mask: Mask) -> Mask:
    """Return the largest piece of a mask without thin parts, its holes filled."""
    labels, count = ndimage.label(ndimage.binary_opening(mask, iterations=2))
    if count == 0:
        return mask
    sizes = np.bincount(labels.ravel())[1:]
    piece = ndimage.binary_dilation(labels == int(np.argmax(sizes)) + 1, iterations=2) & mask
    return np.asarray(ndimage.binary_fill_holes(piece))
