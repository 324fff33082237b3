"""Even out the light of a scanner by a scan of a blank sheet."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Picture
from proofkit.errors import CalibrationError
from proofkit.reflectance.colour import LUMINANCE_WEIGHTS
from proofkit.scan import open_scan, read_scan
from proofkit.scan.types import Scan, ScanFile, ToneCurve
from proofkit.units import px_per_mm

SMOOTH_MM = 3.0
"""The lamp's light changes over centimetres; what changes faster is the blank sheet's own paper. [mm]"""

PPI_SLACK = 0.01
STRIP_ROWS = 256

EVEN = (0.5, 2.0)
"""A lamp is believed to fall to half and rise to double of its middle; beyond that the file shows no blank sheet."""


def flat_gain(path: Path, file: ScanFile, curve: ToneCurve, ppi: float | None) -> Picture:
    """Return how light each place of the bed is against its middle, from a scan of a blank sheet.

    Parameters
    ----------
    path : Path
        Scan of a blank sheet, same size, resolution and settings as the sheets.
    file : ScanFile
        A scan of a sheet, to compare with.
    curve : ToneCurve
        Of the sheets; it serves for the blank sheet too.
    ppi : float, optional
        Resolution that overrides the file's. [px/inch]

    Returns
    -------
    Picture
        (rows, columns) coarse picture, median 1. [-]

    Raises
    ------
    ScanError
        If the file cannot be read.
    CalibrationError
        If it is of another size or resolution, or shows no blank sheet.
    """
    blank = open_scan(path, ppi=ppi)
    size = (blank.width, blank.height, blank.bits, blank.channels)
    if size != (file.width, file.height, file.bits, file.channels) or not _same_ppi(blank, file):
        raise CalibrationError(
            f"The flat field '{path.name}' is {blank.width} x {blank.height} px of {blank.ppi_x:.0f} ppi, scan "
            f"'{file.path.name}' {file.width} x {file.height} px of {file.ppi_x:.0f} ppi; they must be alike. "
            "Scan a blank sheet with the same settings and frame."
        )
    scan = read_scan(blank, curve)
    level = scan.overview @ np.asarray(LUMINANCE_WEIGHTS, dtype=np.float32)
    calm = np.asarray(cv2.medianBlur(level.astype(np.float32), 5), dtype=np.float32)
    sigma = SMOOTH_MM * px_per_mm(blank.ppi_x) / scan.overview_step
    bowl = _bowl(calm)
    even = bowl + np.asarray(cv2.GaussianBlur(calm - bowl, (0, 0), sigma, borderType=cv2.BORDER_REPLICATE))
    gain = even / np.float32(np.median(even))
    if not (EVEN[0] < gain.min() and gain.max() < EVEN[1]):
        raise CalibrationError(
            f"The flat field '{path.name}' goes from {gain.min():.2f} to {gain.max():.2f} of its middle; {EVEN[0]:g} "
            f"to {EVEN[1]:g} is allowed. Scan a blank sheet that covers the whole frame."
        )
    return np.asarray(gain, dtype=np.float32)


def _bowl(level: Picture) -> Picture:
    """Return the second-order surface through a picture: without it smoothing would pull the borders inward."""
    rows, columns = level.shape
    y, x = np.linspace(-1, 1, rows), np.linspace(-1, 1, columns)
    powers = [(i, j) for i in range(3) for j in range(3 - i)]
    step = max(rows // 64, columns // 64, 1)
    some = np.column_stack([np.outer(y[::step] ** i, x[::step] ** j).ravel() for i, j in powers])
    terms = np.linalg.lstsq(some, level[::step, ::step].ravel(), rcond=None)[0]
    surface = sum(term * np.outer(y**i, x**j) for term, (i, j) in zip(terms, powers, strict=True))
    return np.asarray(surface, dtype=np.float32)


def _same_ppi(one: ScanFile, other: ScanFile) -> bool:
    return abs(one.ppi_x / other.ppi_x - 1) < PPI_SLACK and abs(one.ppi_y / other.ppi_y - 1) < PPI_SLACK


def evened(scan: Scan, gain: Picture) -> Scan:
    """Return a scan with the lamp's unevenness taken out; its plane is changed in place, strip by strip."""
    h, w = scan.plane.shape
    rows, columns = gain.shape
    at = np.clip((np.arange(h) + 0.5) * rows / h - 0.5, 0, rows - 1)
    low = np.minimum(at.astype(np.intp), max(rows - 2, 0))
    part = (at - low).astype(np.float32)[:, None]
    for top in range(0, h, STRIP_ROWS):
        cut = slice(top, min(top + STRIP_ROWS, h))
        upper, lower = gain[low[cut]], gain[np.minimum(low[cut] + 1, rows - 1)]
        across = upper * (1 - part[cut]) + lower * part[cut]
        wide = (
            cv2.resize(across, (w, across.shape[0]), interpolation=cv2.INTER_LINEAR)
            if columns != w
            else across
        )
        light = scan.plane[cut] / wide
        scan.plane[cut] = np.clip(np.rint(light), 0, FULL_SCALE).astype(np.uint16)
    small = cv2.resize(gain, scan.overview.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return replace(scan, overview=(scan.overview / small[..., None]).astype(np.float32))
