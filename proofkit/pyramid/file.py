"""Make a pyramid file from a scan, band by band, and read parts of it.

The file begins with one line of JSON, filled up to `HEAD_BYTES`; the levels follow, each of 16-bit numbers in little
endian order, row after row. No level is ever mapped for longer than one reading, so that memory stays small.
"""

import json
import math
import os
import tempfile
from collections import deque
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import asdict, replace
from pathlib import Path
from typing import BinaryIO

import cv2
import numpy as np

from proofkit.arrays import Plane
from proofkit.errors import ScanError
from proofkit.pyramid.types import FORMAT, Level, Part, Pyramid
from proofkit.scan.bands import read_bands
from proofkit.scan.orientation import COLUMNS_REVERSED, ROWS_REVERSED, TURNED, stored_box, upright
from proofkit.scan.types import ScanFile, ToneCurve

HEAD_BYTES = 4096
TOP_LONG_SIDE = 1024
"""Levels halve until the long side fits this: the whole sheet on a screen. [px]"""

MOST_LEVELS = 9
BAND_ROWS = 1 << MOST_LEVELS
"""Rows read at once: a whole number of pixels of every level. [px]"""

MOST_WAITING = 2
"""Bands that wait to be written at most: what is read ahead of a slow disk stays in memory. [bands]"""

_CODE = np.dtype("<u2")


def levels_of(rows: int, columns: int) -> tuple[Level, ...]:
    """Return the levels of a scan of stored `rows` and `columns`.

    >>> [(level.rows, level.columns) for level in levels_of(1705, 2072)]
    [(1705, 2072), (853, 1036), (427, 518)]
    """
    levels = [Level(HEAD_BYTES, rows, columns)]
    while max(levels[-1].rows, levels[-1].columns) > TOP_LONG_SIDE and len(levels) <= MOST_LEVELS:
        last = levels[-1]
        offset = last.offset + last.rows * last.columns * _CODE.itemsize
        levels.append(Level(offset, -(-last.rows // 2), -(-last.columns // 2)))
    return tuple(levels)


def make_pyramid(file: ScanFile, curve: ToneCurve, path: Path, *, stamp: str, setup: str) -> Pyramid:
    """Write the pyramid of a scan; a stop at any moment leaves no file or a whole one.

    Parameters
    ----------
    file, curve
        The scan and how its codes become light.
    path : Path
        File to write.
    stamp, setup : str
        Kept in the file, to tell later whether it still holds.

    Raises
    ------
    ScanError
        If the scan cannot be read, or the pyramid cannot be written: one line.
    """
    turned = file.orientation in TURNED
    rows, columns = (file.width, file.height) if turned else (file.height, file.width)
    pyramid = Pyramid(
        path=path,
        scan=file.path.name,
        sha256=file.sha256,
        stamp=stamp,
        setup=setup,
        curve=curve.name,
        width=file.width,
        height=file.height,
        orientation=file.orientation,
        ppi_x=file.ppi_x,
        ppi_y=file.ppi_y,
        levels=levels_of(rows, columns),
    )
    draft: str | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        descriptor, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(descriptor, "wb") as out:
            out.write(_head(pyramid))
            _write_levels(file, curve, pyramid.levels, out)
        Path(draft).replace(path)
    except OSError as error:
        msg = (
            f"The pyramid of '{file.path.name}' cannot be written to {path.parent} ({error.strerror}). "
            "Make room on the disk, or make the folder writable."
        )
        raise ScanError(msg) from error
    finally:
        if draft is not None:
            Path(draft).unlink(missing_ok=True)
    return pyramid


def _head(pyramid: Pyramid) -> bytes:
    kept = asdict(pyramid) | {"path": "", "format": FORMAT}
    return json.dumps(kept).encode("ascii").ljust(HEAD_BYTES - 1) + b"\n"


def _write_levels(file: ScanFile, curve: ToneCurve, levels: tuple[Level, ...], out: BinaryIO) -> None:
    """Write all levels; a thread of its own writes, so that decoding and halving do not wait for the disk."""
    rows = [0] * len(levels)
    waiting: deque[Future[None]] = deque()
    with ThreadPoolExecutor(1) as writer:
        for band in read_bands(file, curve, BAND_ROWS):
            parts = [band]
            while len(parts) < len(levels):
                parts.append(_halved(parts[-1]))
            starts = [
                level.offset + row * level.columns * _CODE.itemsize
                for level, row in zip(levels, rows, strict=True)
            ]
            rows = [row + part.shape[0] for row, part in zip(rows, parts, strict=True)]
            if len(waiting) >= MOST_WAITING:
                waiting.popleft().result()
            waiting.append(writer.submit(_write, out, starts, parts))
        for last in waiting:
            last.result()


def _write(out: BinaryIO, starts: Sequence[int], parts: Sequence[Plane]) -> None:
    for start, part in zip(starts, parts, strict=True):
        out.seek(start)
        out.write(np.ascontiguousarray(part, dtype=_CODE).data)


def _halved(plane: Plane) -> Plane:
    """Return means of 2 x 2 pixels; an odd last row or column stands for itself."""
    rows, columns = plane.shape
    if rows % 2 or columns % 2:
        bordered = cv2.copyMakeBorder(plane, 0, rows % 2, 0, columns % 2, cv2.BORDER_REPLICATE)
        plane = np.asarray(bordered, dtype=np.uint16)
    size = (plane.shape[1] // 2, plane.shape[0] // 2)
    return np.asarray(cv2.resize(plane, size, interpolation=cv2.INTER_AREA), dtype=np.uint16)


def read_pyramid(path: Path) -> Pyramid | None:
    """Return what a pyramid file says of itself, None when there is none or it is none of ours."""
    try:
        with path.open("rb") as file:
            kept = json.loads(file.read(HEAD_BYTES))
        if kept.pop("format") != FORMAT:
            return None
        levels = tuple(Level(**level) for level in kept.pop("levels"))
        pyramid = Pyramid(**{**kept, "path": path, "levels": levels})
        last = levels[-1]
        whole = path.stat().st_size == last.offset + last.rows * last.columns * _CODE.itemsize
    except (OSError, ValueError, KeyError, TypeError, IndexError, AttributeError):
        return None
    return pyramid if whole else None


def restamped(pyramid: Pyramid, stamp: str) -> Pyramid:
    """Return a pyramid whose scan was touched but not changed, with the new stamp in its file.

    Raises
    ------
    ScanError
        If the file cannot be written.
    """
    fresh = replace(pyramid, stamp=stamp)
    try:
        with pyramid.path.open("r+b") as file:
            file.write(_head(fresh))
    except OSError as error:
        msg = f"{pyramid.path} cannot be written ({error.strerror}). Make it writable, or remove it."
        raise ScanError(msg) from error
    return fresh


def level_for(pyramid: Pyramid, scan_px_per_px: float) -> int:
    """Return the level whose pixels come nearest to those wanted.

    Parameters
    ----------
    pyramid : Pyramid
    scan_px_per_px : float
        Scan pixels along the side of a pixel that is wanted. [px]
    """
    wanted = math.floor(math.log2(max(scan_px_per_px, 1.0)) + 0.5)
    return min(wanted, len(pyramid.levels) - 1)


def read_part(pyramid: Pyramid, box_px: tuple[float, float, float, float], level: int) -> Part | None:
    """Return the part of a level that covers a box of the upright scan, None when they do not meet.

    Parameters
    ----------
    pyramid : Pyramid
    box_px : tuple
        x0, y0, x1, y1 in the upright scan. [px]
    level : int

    Raises
    ------
    ScanError
        If the pyramid file is gone.
    """
    x0, y0 = max(0, math.floor(box_px[0])), max(0, math.floor(box_px[1]))
    x1, y1 = min(pyramid.width, math.ceil(box_px[2])), min(pyramid.height, math.ceil(box_px[3]))
    if x0 >= x1 or y0 >= y1:
        return None
    where = pyramid.levels[level]
    step = 1 << level
    left, top, right, bottom = stored_box(
        (x0, y0, x1, y1), pyramid.orientation, pyramid.width, pyramid.height
    )
    left, top, right, bottom = left // step, top // step, -(-right // step), -(-bottom // step)
    try:
        plane = np.memmap(pyramid.path, _CODE, "r", where.offset, (where.rows, where.columns))
        stored = np.array(plane[top:bottom, left:right], dtype=np.uint16)
    except (OSError, ValueError) as error:
        msg = f"The pyramid of '{pyramid.scan}' can no longer be read. Open the sheet again."
        raise ScanError(msg) from error
    x, y = _upright_start(pyramid, (left * step, top * step, right * step, bottom * step))
    half = (step - 1) / 2
    return Part(np.ascontiguousarray(upright(stored, pyramid.orientation)), step, x + half, y + half)


def _upright_start(pyramid: Pyramid, stored: tuple[int, int, int, int]) -> tuple[int, int]:
    """Return the top left pixel in the upright scan of a box that is given as stored. [px]"""
    left, top, right, bottom = stored
    turned = pyramid.orientation in TURNED
    columns, rows = (pyramid.height, pyramid.width) if turned else (pyramid.width, pyramid.height)
    along = columns - right if pyramid.orientation in COLUMNS_REVERSED else left
    down = rows - bottom if pyramid.orientation in ROWS_REVERSED else top
    return (down, along) if turned else (along, down)
