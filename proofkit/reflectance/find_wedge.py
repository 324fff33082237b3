"""Find a step wedge in a scan when nobody said where it lies: a row of even fields that grow steadily darker."""

from dataclasses import replace
from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import Floats, Mask, Points
from proofkit.errors import CalibrationError
from proofkit.folder.edition import Wedge
from proofkit.scan import read_scan
from proofkit.scan.types import ScanFile, ToneCurve

EVEN_CODES = 1.6
"""Blocks of a step differ by no more than this from their neighbours; the darkest steps of a usual wedge (0.1 D apart)
differ by 4 codes of 255. [code of 255]"""

LONG_SIDE = 800
"""Blocks along the long side of the scan: at 600 ppi 0.4 mm on an A4 sheet, 1 mm on A2."""

STEP_BLOCKS = 9
"""Fewest blocks of a step once its border is left out."""

FILLED = 0.7
"""Least share of its upright box that a step fills; a strip turned by 10 degrees still does."""

BORDER_BLOCKS = 4
"""Blocks that a step loses to its borders, both sides together: averaging and the look at neighbours take one each."""

NEAREST = 10
"""How many of the nearest fields are tried as the second step."""

STRAY = 0.2
"""A step's centre may lie off its place in the row by this share of the pitch."""

ALIKE = 1.8
"""Steps of a wedge are alike in size: the largest has at most this many times the blocks of the smallest."""


class _Fields(NamedTuple):
    """Even fields of a scan."""

    centre: Points
    """(n, 2) [block]"""
    size: Floats
    """(n,) number of blocks."""
    side: Floats
    """(n, 2) width and height. [block]"""
    code: Floats
    """(n,) mean code. [of 255]"""


def find_wedge(file: ScanFile, wedge: Wedge) -> Wedge:
    """Return the wedge with the corners at which it was found.

    Parameters
    ----------
    file : ScanFile
    wedge : Wedge
        Its densities say how many steps are looked for, and in which order.

    Raises
    ------
    CalibrationError
        If no row of so many fields is found.

    Notes
    -----
    Codes are averaged over blocks; even blocks that hang together are fields. Any two fields of like size near each
    other set a direction and a pitch; where so many fields follow each other at that pitch and their codes fall from
    each to the next, that is the wedge. Of several the one whose centres lie most evenly is taken.
    """
    scan = read_scan(file, _codes_as_light(file))
    codes = scan.overview.mean(axis=2).astype(np.float32) * 255
    factor = max(1, round(max(codes.shape) / LONG_SIDE))
    rows, columns = (n // factor for n in codes.shape)
    codes = cv2.resize(
        codes[: rows * factor, : columns * factor], (columns, rows), interpolation=cv2.INTER_AREA
    )
    fields = _fields(codes)
    count = len(wedge.densities)
    best: tuple[float, np.ndarray] | None = None
    for row in _rows(fields, count):
        stray = _unevenness(fields.centre[row])
        if best is None or stray < best[0]:
            best = (stray, row)
    if best is None:
        least = (3 + BORDER_BLOCKS) * factor * scan.overview_step
        raise CalibrationError(
            f"No step wedge of {count} steps was found in scan '{file.path.name}'; its steps have to lie in a straight "
            f"row, all whole, none saturated, each at least {least} px a side. "
            "Give corners of the wedge in edition.toml."
        )
    row = best[1]
    rising = wedge.densities[-1] > wedge.densities[0]
    # Codes fall as densities rise.
    if (fields.code[row[-1]] < fields.code[row[0]]) != rising:
        row = row[::-1]
    return replace(wedge, corners_px=_corners(fields, row, scan.overview_step * factor))


def _codes_as_light(file: ScanFile) -> ToneCurve:
    """Return the curve that leaves codes as they are."""
    line = np.linspace(0.0, 1.0, 1 << file.bits, dtype=np.float32)
    return ToneCurve(
        np.tile(line, (file.channels, 1)), (1.0,) if file.channels == 1 else (1 / 3,) * 3, "codes"
    )


def _fields(codes: np.ndarray) -> _Fields:
    """Return the even fields of a picture of codes."""
    window = np.ones((3, 3), dtype=np.uint8)
    codes = np.asarray(cv2.blur(codes, (3, 3)))
    even: Mask = cv2.dilate(codes, window) - cv2.erode(codes, window) < EVEN_CODES
    count, labels, stats, centres = cv2.connectedComponentsWithStats(even.astype(np.uint8), connectivity=4)
    total = np.bincount(labels.ravel(), weights=codes.ravel(), minlength=count)
    size = stats[:, cv2.CC_STAT_AREA].astype(np.float64)
    side = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].astype(np.float64)
    kept = (size >= STEP_BLOCKS) & (size >= FILLED * side.prod(axis=1))
    kept[0] = False  # label 0 is all that is not even
    return _Fields(centres[kept], size[kept], side[kept], (total / np.maximum(size, 1))[kept])


def _rows(fields: _Fields, count: int) -> list[np.ndarray]:
    """Return all rows of `count` fields, each a list of fields."""
    found = []
    for first in range(len(fields.size)):
        alike = (fields.size < ALIKE * fields.size[first]) & (fields.size > fields.size[first] / ALIKE)
        apart = fields.centre - fields.centre[first]
        order = np.argsort(np.hypot(apart[:, 0], apart[:, 1]))
        for second in order[alike[order]][1 : NEAREST + 1]:
            row = _follow(fields, first, int(second), count)
            if row is not None:
                found.append(row)
    return found


def _follow(fields: _Fields, first: int, second: int, count: int) -> np.ndarray | None:
    """Return the row that two fields begin, None when it breaks off, turns or its codes do not fall steadily."""
    row = [first, second]
    while len(row) < count:
        done = len(row)
        pitch = (fields.centre[row[-1]] - fields.centre[first]) / (done - 1)
        off = fields.centre - (fields.centre[first] + done * pitch)
        distance = np.hypot(off[:, 0], off[:, 1])
        nearest = int(np.argmin(distance))
        if distance[nearest] > STRAY * np.hypot(*pitch) or nearest in row:
            return None
        row.append(nearest)
    steps = np.diff(fields.code[row])
    if not (steps < 0).all():
        return None
    sizes = fields.size[row]
    return np.array(row) if sizes.max() < ALIKE * sizes.min() else None


def _unevenness(centres: Points) -> float:
    """Return how far centres stray from an even row, in pitches."""
    k = np.arange(len(centres)) - (len(centres) - 1) / 2
    pitch = k @ centres / (k @ k)
    rest = centres - centres.mean(axis=0) - k[:, None] * pitch
    return float(np.sqrt(np.mean(np.sum(rest**2, axis=1))) / np.hypot(*pitch))


def _corners(fields: _Fields, row: np.ndarray, step: int) -> tuple[tuple[float, float], ...]:
    """Return the corners of a row, the first step's outer side first. [px]"""
    centres = fields.centre[row]
    k = np.arange(len(row)) - (len(row) - 1) / 2
    pitch = k @ centres / (k @ k)
    along = pitch / np.hypot(*pitch)
    across = np.array([-along[1], along[0]])
    half = (float(np.median(np.abs(fields.side[row] @ np.abs(across)))) + BORDER_BLOCKS) / 2
    middle = centres.mean(axis=0)
    begin, end = middle - len(row) / 2 * pitch, middle + len(row) / 2 * pitch
    blocks = np.array(
        [begin - half * across, begin + half * across, end + half * across, end - half * across]
    )
    places = blocks * step + (step - 1) / 2
    return tuple((float(x), float(y)) for x, y in places)
