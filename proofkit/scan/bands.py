"""Read a scan band by band: linear luminance in the order of the file, never more of it than a few bands."""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Plane
from proofkit.scan.kernels import luminance_of_grey, luminance_of_rgb
from proofkit.scan.pieces import Codes, Piece, use_pieces
from proofkit.scan.reading import decoders, gone, luminance_tables, same_file
from proofkit.scan.types import ScanFile, ToneCurve

_Part = tuple[int, int, Plane]
"""Stored row and column of a piece, and its luminance."""


def read_bands(file: ScanFile, curve: ToneCurve, rows: int, *, workers: int | None = None) -> Iterator[Plane]:
    """Give a scan as linear luminance in bands from its first stored row to its last.

    Parameters
    ----------
    file : ScanFile
        From `open_scan`.
    curve : ToneCurve
        Tables for the channels and bits of this file.
    rows : int
        Rows of a band; the last one may have fewer. [px]
    workers : int, optional
        Threads that decode; the result does not depend on it.

    Yields
    ------
    Plane
        (rows, stored columns), as the file stores them: not turned upright.

    Raises
    ------
    ScanError
        If the file changed since it was opened, vanished or is damaged.
    """
    header = same_file(file)
    tables = luminance_tables(file, header, curve)

    def use(pieces: list[Piece]) -> list[_Part]:
        return [(piece.row, piece.column, luminance(piece.codes, tables)) for piece in pieces]

    waiting: list[_Part] = []
    top, bottom = 0, min(rows, header.height)
    try:
        for parts in use_pieces(file.path, header, use, workers or decoders()):
            waiting.extend(parts)
            # Pieces do not overlap, so that counting pixels tells a full band.
            while top < bottom and _filled(waiting, top, bottom) == (bottom - top) * header.width:
                yield _band(waiting, top, bottom, header.width)
                waiting = [part for part in waiting if part[0] + part[2].shape[0] > bottom]
                top, bottom = bottom, min(bottom + rows, header.height)
    except OSError as error:
        raise gone(file) from error


def luminance(codes: Codes, tables: npt.NDArray[np.int32]) -> Plane:
    """Return the luminance of codes (rows, columns, samples), by tables as `tables_of` gives them. [1/65535]"""
    seen = codes.view()
    seen.flags.writeable = False  # one kind of argument, so that the kernel is compiled once
    plane = np.empty(seen.shape[:2], dtype=np.uint16)
    fill = luminance_of_rgb if tables.shape[0] == 3 else luminance_of_grey
    fill(seen, tables, plane)
    return plane


def _filled(parts: list[_Part], top: int, bottom: int) -> int:
    """Return how many pixels of a band have come."""
    return sum(
        max(0, min(row + plane.shape[0], bottom) - max(row, top)) * plane.shape[1] for row, _, plane in parts
    )


def _band(parts: list[_Part], top: int, bottom: int, width: int) -> Plane:
    band = np.empty((bottom - top, width), dtype=np.uint16)
    for row, column, plane in parts:
        first, last = max(row, top), min(row + plane.shape[0], bottom)
        if first < last:
            band[first - top : last - top, column : column + plane.shape[1]] = plane[first - row : last - row]
    return band
