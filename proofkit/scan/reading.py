"""Read a scan: codes go through the tone curve into one linear plane and a small colour overview."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import FULL_SCALE, Picture
from proofkit.errors import ScanError
from proofkit.scan.hashing import file_stamp
from proofkit.scan.header import Header, fault
from proofkit.scan.kernels import SHIFT, add_grey, add_rgb
from proofkit.scan.opening import read_header
from proofkit.scan.orientation import COLUMNS_REVERSED, ROWS_REVERSED, as_stored, stored_box, upright
from proofkit.scan.pieces import Codes, Piece, use_pieces
from proofkit.scan.tiff import is_grey_from_white, open_page
from proofkit.scan.types import Scan, ScanFile, ToneCurve
from proofkit.threads import threads_inside

OVERVIEW_LONG_SIDE = 1500
"""Most blocks of the overview along the long side of a sheet."""

MOST_WORKERS = 2
"""Threads that decode one scan where as many are allowed; more gain little."""

_Sums = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class _Target:
    """Where pieces go: the plane and the grid of overview blocks, both in the order of the file."""

    plane: npt.NDArray[np.uint16]
    tables: npt.NDArray[np.int32]
    """(channels, codes) shares of luminance. [2**-SHIFT / 65535]"""
    step: int
    """Side of a block. [px]"""
    lack_y: int
    """Rows that the first row of blocks lacks. [px]"""
    lack_x: int
    """Columns that the first column of blocks lacks. [px]"""

    @property
    def grid(self) -> tuple[int, int]:
        """Rows and columns of blocks."""
        rows, columns = self.plane.shape
        return -(-(rows + self.lack_y) // self.step), -(-(columns + self.lack_x) // self.step)


def read_scan(file: ScanFile, curve: ToneCurve, *, workers: int | None = None) -> Scan:
    """Return a scan as linear luminance with a colour overview.

    Parameters
    ----------
    file : ScanFile
        From `open_scan`.
    curve : ToneCurve
        Tables for the channels and bits of this file.
    workers : int, optional
        Threads that decode, `MOST_WORKERS` or as many as are allowed inside a sheet; the result does not depend on it.

    Returns
    -------
    Scan
        `plane` is (height, width) uint16, upright; `overview` (rows, columns, 3) float32.

    Raises
    ------
    ScanError
        If the file changed since it was opened, vanished or is damaged.

    Notes
    -----
    A value of the plane is ``65535 * sum(weight * table[code])``, rounded once; it is clipped to 0 and 65535. The
    overview is the mean of linear light over blocks that start at the upright top left.
    """
    header = same_file(file)
    plane = np.empty((file.height, file.width), dtype=np.uint16)
    target = _target(file, header, curve, plane)
    overview = _Overview(target, file, curve)

    def use(pieces: list[Piece]) -> tuple[int, _Sums]:
        return _add(target, pieces)

    try:
        for row, part in use_pieces(file.path, header, use, workers or decoders()):
            overview.add(row, part)
    except OSError as error:
        raise gone(file) from error
    check_untouched(file)
    return Scan(
        file=file,
        plane=plane,
        overview=overview.finished(),
        overview_step=target.step,
        curve=curve.name,
        quality=file.quality | curve.quality,
        curve_residual_density=curve.residual_density,
    )


def decoders() -> int:
    """Return how many threads may decode a scan."""
    return min(MOST_WORKERS, threads_inside())


def read_codes(file: ScanFile, box_px: tuple[int, int, int, int]) -> Codes:
    """Return the codes of a small box, as the scanner gave them.

    Parameters
    ----------
    file : ScanFile
    box_px : tuple of int
        ``(x0, y0, x1, y1)`` in the upright scan, x1 and y1 not included. [px]

    Returns
    -------
    Codes
        (rows, columns, channels) uint8 or uint16, upright; 0 is black, also in files that store white as 0.

    Raises
    ------
    ScanError
        If the box reaches beyond the scan, or the file changed, vanished or is damaged.
    """
    x0, y0, x1, y1 = box_px
    if not (0 <= x0 < x1 <= file.width and 0 <= y0 < y1 <= file.height):
        raise fault(
            file.path,
            f"has no box x {x0} to {x1}, y {y0} to {y1} px; it is {file.width} x {file.height} px",
            "Give corners inside the scan.",
        )
    header = same_file(file)
    left, top, right, bottom = stored_box(box_px, file.orientation, file.width, file.height)
    dtype = np.uint8 if file.bits == 8 else np.uint16
    codes = np.empty((bottom - top, right - left, file.channels), dtype=dtype)

    def use(pieces: list[Piece]) -> None:
        for piece in pieces:
            _paste(piece, codes, left, top)

    try:
        for _ in use_pieces(file.path, header, use, 1, range(top, bottom)):
            pass
        if _stores_white_as_zero(file, header):
            np.invert(codes, out=codes)
    except OSError as error:
        raise gone(file) from error
    check_untouched(file)
    return np.ascontiguousarray(upright(codes, file.orientation))


def overview_step(width: int, height: int) -> int:
    """Return the side of an overview block for a sheet. [px]

    >>> overview_step(14000, 19800), overview_step(900, 1200)
    (14, 1)
    """
    return max(1, -(-max(width, height) // OVERVIEW_LONG_SIDE))


def same_file(file: ScanFile) -> Header:
    """Return the head of the file, read anew; raise ScanError when it is no longer what was opened."""
    try:
        header = read_header(file.path)
    except OSError as error:
        raise gone(file) from error
    size = (header.height, header.width) if header.orientation >= 5 else (header.width, header.height)
    if (*size, header.bits, header.channels) != (file.width, file.height, file.bits, file.channels):
        raise fault(file.path, "was changed while it was being measured", "Start again when it is finished.")
    return header


def check_untouched(file: ScanFile) -> None:
    """Raise ScanError when a file was touched since it was opened: its pixels may be of two files."""
    if file.stamp and file_stamp(file.path) != file.stamp:
        raise fault(
            file.path, "was changed while it was being read", "Run again when it is complete and left alone."
        )


def gone(file: ScanFile) -> ScanError:
    """Return the error for a scan that was there and cannot be read any more."""
    return fault(
        file.path, "can no longer be read", "Check that it still lies there and that its disk is connected."
    )


def _stores_white_as_zero(file: ScanFile, header: Header) -> bool:
    if header.kind != "TIFF" or header.channels != 1:
        return False
    with open_page(file.path) as page:
        return is_grey_from_white(page)


def luminance_tables(file: ScanFile, header: Header, curve: ToneCurve) -> npt.NDArray[np.int32]:
    """Return what `tables_of` does, for codes as the file stores them."""
    tables = tables_of(file, curve)
    return np.ascontiguousarray(tables[:, ::-1]) if _stores_white_as_zero(file, header) else tables


def tables_of(file: ScanFile, curve: ToneCurve) -> npt.NDArray[np.int32]:
    """Return the share of each channel's codes in luminance, 0 being black, in fixed point. [2**-SHIFT / 65535]

    Raises
    ------
    ScanError
        If the curve was made for other codes.
    """
    if curve.tables.shape != (file.channels, 1 << file.bits):
        raise fault(
            file.path,
            f"has {file.channels} channels of {file.bits} bits, the tone curve '{curve.name}' has tables of "
            f"{curve.tables.shape[0]} x {curve.tables.shape[1]}",
            "Make the tone curve from this file.",
        )
    weights = np.asarray(curve.weights, dtype=np.float64)[:, None]
    return np.rint(curve.tables * (weights * FULL_SCALE * (1 << SHIFT))).astype(np.int32)


def _target(file: ScanFile, header: Header, curve: ToneCurve, plane: npt.NDArray[np.uint16]) -> _Target:
    """Return the target of a reading."""
    tables = luminance_tables(file, header, curve)
    step = overview_step(file.width, file.height)
    stored = as_stored(plane, file.orientation)
    rows, columns = stored.shape
    return _Target(
        plane=stored,
        tables=tables,
        step=step,
        lack_y=-rows % step if file.orientation in ROWS_REVERSED else 0,
        lack_x=-columns % step if file.orientation in COLUMNS_REVERSED else 0,
    )


def _add(target: _Target, pieces: list[Piece]) -> tuple[int, _Sums]:
    """Write pieces into the plane; return the first block row they touch and their sums."""
    first = min(piece.row for piece in pieces)
    last = max(piece.row + piece.codes.shape[0] for piece in pieces) - 1
    block_row = (first + target.lack_y) // target.step
    rows = (last + target.lack_y) // target.step - block_row + 1
    sums = np.zeros((rows, target.grid[1], target.tables.shape[0]), dtype=np.int64)
    add = add_rgb if target.tables.shape[0] == 3 else add_grey
    for piece in pieces:
        codes = piece.codes.view()
        codes.flags.writeable = False  # one kind of argument, so that the kernel is compiled once
        place = (piece.row, piece.column, target.step, target.lack_y, target.lack_x, block_row)
        add(codes, target.tables, target.plane, sums, place)
    return block_row, sums


def _paste(piece: Piece, codes: Codes, left: int, top: int) -> None:
    """Copy the part of a piece that lies in a box into the array of the box."""
    rows, columns, _ = piece.codes.shape
    y0, y1 = max(piece.row, top), min(piece.row + rows, top + codes.shape[0])
    x0, x1 = max(piece.column, left), min(piece.column + columns, left + codes.shape[1])
    if y0 < y1 and x0 < x1:
        part = piece.codes[y0 - piece.row : y1 - piece.row, x0 - piece.column : x1 - piece.column]
        codes[y0 - top : y1 - top, x0 - left : x1 - left] = part[:, :, : codes.shape[2]]


class _Overview:
    """Mean linear RGB of blocks, made of sums that come in the order of the file; few of them are held at a time."""

    def __init__(self, target: _Target, file: ScanFile, curve: ToneCurve) -> None:
        rows, columns = target.plane.shape
        step = target.step
        self._tall = _block_sizes(rows, target.lack_y, step)
        self._wide = _block_sizes(columns, target.lack_x, step)
        self._units = [weight * FULL_SCALE * (1 << SHIFT) for weight in curve.weights]
        self._picture = np.empty((-(-file.height // step), -(-file.width // step), 3), dtype=np.float32)
        self._stored = as_stored(self._picture, file.orientation)
        self._first = 0
        self._waiting: _Sums = np.zeros((0, target.grid[1], file.channels), dtype=np.int64)

    def add(self, row: int, sums: _Sums) -> None:
        """Add the sums of block rows from `row` on; those above get no more."""
        self._finish(row)
        lacking = row + len(sums) - self._first - len(self._waiting)
        if lacking > 0:
            more = np.zeros((lacking, *sums.shape[1:]), dtype=np.int64)
            self._waiting = np.concatenate((self._waiting, more))
        self._waiting[row - self._first : row - self._first + len(sums)] += sums

    def finished(self) -> Picture:
        """Return the picture, upright."""
        self._finish(self._first + len(self._waiting))
        return self._picture

    def _finish(self, row: int) -> None:
        """Write the block rows before `row`."""
        done, self._waiting = np.split(self._waiting, [row - self._first])
        rows = slice(self._first, row)
        for channel in range(3):
            source = min(channel, done.shape[2] - 1)
            area = self._wide * self._units[source]
            self._stored[rows, :, channel] = done[:, :, source] / (self._tall[rows, None] * area)
        self._first = row


def _block_sizes(length: int, lack: int, step: int) -> npt.NDArray[np.int64]:
    """Return how many pixels each block has along one side. [px]"""
    edges = np.append(np.arange(-lack, length, step), length)
    edges[0] = 0
    return np.diff(edges).astype(np.int64)
