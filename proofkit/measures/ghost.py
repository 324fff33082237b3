"""A second, fainter set of lines all over a sheet: doubling, told from the whole picture.

Every line of a doubled sheet is printed again, fainter and with one shift. So the sheet is explained as the standard,
times a factor and a little moved, sharper or softer, plus the standard at a shift; the shift that explains most is
the doubling. Patches of many directions settle together what hatching of one direction leaves open by whole spacings.
"""

from typing import NamedTuple

import cv2
import numpy as np
from scipy import fft

from proofkit.arrays import Complexes, Floats, Picture
from proofkit.laying.rectify import Box, rectify
from proofkit.laying.types import to_sheet_px
from proofkit.measures.types import LaidSheet
from proofkit.peaks import top_beside
from proofkit.reflectance import paper_level

PITCH_MM = 0.04
"""Cells of the patches: about a pixel at 600 ppi. [mm]"""

CELLS = 128
"""Side of a patch; 5.1 mm hold several spacings of the widest hatching. [cells]"""

MOST_PATCHES = 40
"""More patches than these only repeat what is known (choice of ours)."""

FEWEST_PATCHES = 2

LEAST_SPREAD = 0.05
"""A patch whose ink spreads less (standard deviation of 1 - R/Rp) has no work to see doubled. [-]"""

LONGEST_PERIOD_MM = 1.2
"""Slower changes are film and paper. [mm]"""

SOFT_MM = 0.035
"""Finer detail than this Gaussian sigma is grain and blur. [mm]"""

REACH_MM = (0.1, 0.5)
"""Shifts that are looked for: nearer, two lines are one broad line; farther, paper does not slip. [mm]"""

OFF_MM = 0.1
"""The sheet itself may lie so far off the standard. [mm]"""

LEAST_NEWS = 0.08
"""A shift that makes the standard so like itself (hatching, moved by a spacing) that less than this share of it is new
cannot be told. [-]"""

LEAST_FRACTION = 0.08
"""Least strength against the lines that is called doubled: sheets without doubling reach 0.06 by chance, wear and
dragged ink; simulated doubled ones 0.27 to 0.48. [-]"""

LEAST_SHARE = 0.008
"""Least share of the line work that a second set explains: on other sheets 0.003, on doubled ones 0.04 to 0.13. [-]"""


class Ghost(NamedTuple):
    """A second set of lines."""

    shift_um: float
    """0 when none was seen."""
    direction_deg: float
    """Counter-clockwise from x."""
    fraction: float
    """Strength against the lines themselves, as it is seen: less by what falls on lines that are there already."""


class Patch(NamedTuple):
    """A square of the standard that holds line work."""

    box: Box
    ink: Picture
    """(CELLS, CELLS) its ink; a quarter of the size of its spectrum, which is soon worked out."""


NOTHING = Ghost(0.0, float("nan"), 0.0)


def ghost_patches(standard: LaidSheet, size_mm: tuple[float, float]) -> tuple[Patch, ...]:
    """Return what `find_ghost` compares sheets with, so that the standard's scan is not needed any more."""
    found = []
    for box in _thinned(_boxes(size_mm)):
        ink = _ink(standard, box)
        if ink is not None and float(ink.std()) >= LEAST_SPREAD:
            found.append(Patch(box, ink))
    return tuple(found[:: max(-(-len(found) // MOST_PATCHES), 1)])


def find_ghost(sheet: LaidSheet, patches: tuple[Patch, ...]) -> Ghost:
    """Return shift and strength of a second, fainter set of lines, against the standard.

    Parameters
    ----------
    sheet : LaidSheet
    patches : tuple of Patch
        Of the standard.

    Notes
    -----
    With S the spectrum of the standard's patch and I that of the sheet's,
    ``I = (a + i c.w - d w²) S + b S exp(-i w.v)`` is fitted by weighted least squares for every shift v at once: all
    sums over frequencies w that depend on v are Fourier transforms. Weights are 1 / (mean |S|² + noise), so that the
    period of the hatching does not drown the rest.
    """
    power = np.zeros((CELLS, CELLS))
    cross = np.zeros((CELLS, CELLS), dtype=np.complex128)
    used = 0
    for patch in patches:
        ink = _ink(sheet, patch.box)
        if ink is not None:
            spectrum = _spectrum(patch.ink)
            power += np.abs(spectrum) ** 2
            cross += _spectrum(ink) * np.conj(spectrum)
            used += 1
    return _best_shift(power, cross) if used >= FEWEST_PATCHES else NOTHING


def _boxes(size_mm: tuple[float, float]) -> list[Box]:
    """Return squares that cover the middle of the plate without overlap."""
    side = CELLS * PITCH_MM
    columns, rows = (int(length // side) for length in size_mm)
    x0, y0 = ((length - count * side) / 2 for length, count in zip(size_mm, (columns, rows), strict=True))
    return [
        Box(x0 + column * side, y0 + row * side, CELLS, CELLS, PITCH_MM)
        for row in range(rows)
        for column in range(columns)
    ]


def _thinned(boxes: list[Box]) -> list[Box]:
    """Return boxes spread over the plate, no more than three times as many as are used: some are bare."""
    step = max(-(-len(boxes) // (3 * MOST_PATCHES)), 1)
    return boxes[::step]


def _ink(sheet: LaidSheet, box: Box) -> Picture | None:
    """Return the ink of a patch, 1 - R/Rp; None when part of it is not on the scan."""
    per_mm = sheet.laying.px_per_mm
    finer = max(int(np.ceil(per_mm * PITCH_MM / 1.5)), 1)
    fine = Box(box.x0_mm, box.y0_mm, box.columns * finer, box.rows * finer, box.pitch_mm / finer)
    light = rectify(sheet.scan.plane, sheet.laying, fine)
    if not np.isfinite(light).all():
        return None
    if finer > 1:
        light = np.asarray(
            cv2.resize(light, (box.columns, box.rows), interpolation=cv2.INTER_AREA), np.float32
        )
    half = box.pitch_mm * box.columns / 2
    middle = to_sheet_px(sheet.laying, np.array([[box.x0_mm + half, box.y0_mm + half]]))
    level = float(paper_level(sheet.paper, middle[:, 0], middle[:, 1])[0])
    return np.asarray(1 - light / np.float32(level), dtype=np.float32)


def _spectrum(ink: Picture) -> Complexes:
    window = np.hanning(CELLS)
    return np.asarray(fft.fft2((ink - ink.mean()) * np.outer(window, window)), dtype=np.complex128)


def _best_shift(power: Floats, cross: Complexes) -> Ghost:
    wx, wy = np.meshgrid(*(2 * np.pi * fft.fftfreq(CELLS, PITCH_MM),) * 2)
    vx, vy = np.meshgrid(*(fft.fftfreq(CELLS, 1 / CELLS) * PITCH_MM,) * 2)
    far = np.hypot(vx, vy)
    squared = wx**2 + wy**2
    band = squared > (2 * np.pi / LONGEST_PERIOD_MM) ** 2
    weights = band * np.exp(-squared * SOFT_MM**2) / (power + np.median(power[band]) + 1e-12)
    alike = np.where(far <= OFF_MM, fft.ifft2(weights * cross).real, -np.inf)
    off_x, off_y = _top(alike, vx, vy)
    cross = cross * np.exp(1j * (wx * off_x + wy * off_y))
    # The standard itself, moved a little in x and in y, and sharper or softer.
    own = (np.ones_like(wx), -1j * wx, -1j * wy, -squared)
    among = np.array([[np.sum(weights * power * np.conj(one) * other).real for other in own] for one in own])
    on_sheet = np.array([np.sum(weights * cross * np.conj(one)).real for one in own])
    on_shifted = np.array([fft.fft2(weights * power * np.conj(one)).real for one in own])
    shifted_on_sheet = fft.ifft2(weights * cross).real * CELLS**2
    whole = float(among[0, 0])
    if whole <= 0:
        return NOTHING
    inverse = np.linalg.pinv(among)
    news = whole - np.einsum("jxy,jk,kxy->xy", on_shifted, inverse, on_shifted)
    new_on_sheet = shifted_on_sheet - np.einsum("jxy,jk,k->xy", on_shifted, inverse, on_sheet)
    own_strength = float((inverse @ on_sheet)[0])
    asked = (far >= REACH_MM[0]) & (far <= REACH_MM[1]) & (news > LEAST_NEWS * whole) & (new_on_sheet > 0)
    explained = np.where(asked, new_on_sheet**2 / np.where(asked, news, 1.0), 0.0)
    best = np.unravel_index(int(np.argmax(explained)), explained.shape)
    if own_strength <= 0 or explained[best] < LEAST_SHARE * whole:
        return NOTHING
    fraction = float(new_on_sheet[best] / news[best]) / own_strength
    if fraction < LEAST_FRACTION:
        return NOTHING
    dx, dy = _top(explained, vx, vy)
    return Ghost(float(np.hypot(dx, dy) * 1000), float(np.degrees(np.arctan2(-dy, dx)) % 360), fraction)


def _top(values: Floats, vx: Floats, vy: Floats) -> tuple[float, float]:
    """Return the shift with the greatest value, refined by parabolas through its neighbours. [mm]"""
    row, column = np.unravel_index(int(np.argmax(values)), values.shape)
    # Shifts go round: the one before the first is the last.
    right, down = (column + 1) % CELLS, (row + 1) % CELLS
    top = values[row, column]
    dx = float(vx[row, column]) + PITCH_MM * top_beside(values[row, column - 1], top, values[row, right])
    dy = float(vy[row, column]) + PITCH_MM * top_beside(values[row - 1, column], top, values[down, column])
    return dx, dy
