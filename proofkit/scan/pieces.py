"""Codes of a scan file piece by piece, in bounded memory, whatever the kind of file.

A piece is a few rows or tiles with native byte order. TIFF strips and tiles are decoded by a few threads at once;
PNG is unpacked in bands, one thread unpacking while the other takes the filters off; JPEG is decoded as a whole, as its
coding allows nothing else, and handed out in bands.
"""

import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, TypeAlias, TypeVar

import imagecodecs
import numpy as np
import numpy.typing as npt
from tifffile import TiffPage

from proofkit.errors import ProofkitError
from proofkit.scan.header import DAMAGE, Header, damaged, first_line
from proofkit.scan.lzw import block_of, is_lzw, undone
from proofkit.scan.png import png_layout
from proofkit.scan.png_rows import png_bands
from proofkit.scan.tiff import open_page

Codes: TypeAlias = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]

UNIT_BYTES = 2_000_000
"""Decoded size of what one thread takes at a time: large against the cost of handing over, small against a sheet."""

T = TypeVar("T")


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """Codes of a part of the picture, in the order of the file."""

    codes: Codes
    """(rows, columns, samples), C order, native bytes."""
    row: int
    column: int


Use: TypeAlias = Callable[[list[Piece]], T]


def use_pieces(
    path: Path, header: Header, use: Use[T], workers: int, rows: range | None = None
) -> Iterator[T]:
    """Hand all pieces of a scan to `use` and give what it returns, in the order of the file.

    Parameters
    ----------
    path : Path
    header : Header
        As read from this file.
    use : callable
        Takes a list of pieces; called from several threads when `workers` is more than 1.
    workers : int
        Threads that decode.
    rows : range, optional
        Stored rows that are wanted; pieces that hold none of them may be left out. All by default. [px]

    Yields
    ------
    T
        Results of `use`.

    Raises
    ------
    ScanError
        If the file is damaged.
    """
    wanted = rows if rows is not None else range(header.height)
    try:
        if header.kind == "TIFF":
            yield from _tiff(path, use, workers, wanted)
        elif header.kind == "JPEG":
            yield from _whole(imagecodecs.jpeg8_decode(path.read_bytes()), use, workers, wanted)
        else:
            yield from _png(path, use, workers, wanted)
    except ProofkitError:
        raise
    except DAMAGE as error:
        raise damaged(path, first_line(error)) from error


def _whole(codes: Codes, use: Use[T], workers: int, rows: range) -> Iterator[T]:
    """Give results for a picture that was decoded as a whole, in bands, several at once."""
    whole = codes if codes.ndim == 3 else codes[:, :, None]
    tall = max(1, UNIT_BYTES // max(whole[0].nbytes, 1))

    def work(band: Sequence[int]) -> T:
        return use([Piece(whole[band[0] : band[-1] + 1], band[0], 0)])

    bands = [range(row, min(row + tall, rows.stop)) for row in range(rows.start, rows.stop, tall)]
    yield from _in_order(work, bands, workers)


def _png(path: Path, use: Use[T], workers: int, rows: range) -> Iterator[T]:
    layout = png_layout(path)
    if layout.interlaced:
        yield from _whole(imagecodecs.png_decode(path.read_bytes()), use, workers, rows)
        return
    for row, codes in png_bands(path, layout, UNIT_BYTES):
        if row >= rows.stop:
            return
        if row + codes.shape[0] > rows.start:
            yield use([Piece(codes, row, 0)])


def _tiff(path: Path, use: Use[T], workers: int, rows: range) -> Iterator[T]:
    """Give results for a TIFF; units are decoded ahead, a few more than there are threads."""
    with open_page(path) as page, path.open("rb", buffering=0) as file:
        lock = threading.Lock()
        if _is_raw(page):
            units: Sequence[Sequence[int]] = _raw_units(page, rows)

            def work(unit: Sequence[int]) -> T:
                return use([_raw_piece(page, file, lock, range(unit[0], unit[-1] + 1))])
        else:
            units = _coded_units(page, rows)

            def work(unit: Sequence[int]) -> T:
                return use([_coded_piece(path, page, file, lock, index) for index in unit])

        yield from _in_order(work, units, workers)


def _in_order(
    work: Callable[[Sequence[int]], T], units: Sequence[Sequence[int]], workers: int
) -> Iterator[T]:
    """Give ``work(unit)`` for each unit in order, computed by `workers` threads with few results waiting."""
    if workers < 2:
        yield from map(work, units)
        return
    with ThreadPoolExecutor(workers) as pool:
        waiting: deque[Future[T]] = deque()
        try:
            for unit in units:
                waiting.append(pool.submit(work, unit))
                if len(waiting) > workers + 1:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def _read(file: BinaryIO, lock: threading.Lock, offset: int, count: int) -> bytes:
    """Return bytes of a file that several threads share."""
    with lock:
        file.seek(offset)
        data = file.read(count)
    if data is None or len(data) < count:
        raise EOFError(f"it breaks off at byte {offset + len(data or b'')}")
    return data


def _is_raw(page: TiffPage) -> bool:
    """Return whether the pixels lie in the file as they are, row after row."""
    offsets, counts = page.dataoffsets, page.databytecounts
    return (
        page.compression == 1
        and not page.is_tiled
        and page.planarconfig == 1
        and page.fillorder == 1
        and page.predictor == 1
        and all(a + n == b for a, n, b in zip(offsets, counts, offsets[1:], strict=False))
        and sum(counts) >= _row_bytes(page) * page.imagelength
    )


def _row_bytes(page: TiffPage) -> int:
    dtype = page.dtype
    return page.imagewidth * page.samplesperpixel * (dtype.itemsize if dtype is not None else 1)


def _raw_units(page: TiffPage, rows: range) -> list[range]:
    step = max(1, UNIT_BYTES // _row_bytes(page))
    return [range(row, min(row + step, rows.stop)) for row in range(rows.start, rows.stop, step)]


def _raw_piece(page: TiffPage, file: BinaryIO, lock: threading.Lock, rows: range) -> Piece:
    data = _read(
        file, lock, page.dataoffsets[0] + rows.start * _row_bytes(page), len(rows) * _row_bytes(page)
    )
    stored = np.frombuffer(data, dtype=_stored_dtype(page))
    return Piece(_native(stored.reshape(len(rows), page.imagewidth, page.samplesperpixel)), rows.start, 0)


def _stored_dtype(page: TiffPage) -> np.dtype[np.generic]:
    return np.dtype(f"{page.parent.byteorder}u{page.bitspersample // 8}")


def _native(codes: npt.NDArray[np.generic]) -> Codes:
    """Return codes in C order and native bytes; a copy only where they are not."""
    if codes.dtype.itemsize == 1:
        return np.ascontiguousarray(codes, dtype=np.uint8)
    return np.ascontiguousarray(codes, dtype=np.uint16)


def _coded_units(page: TiffPage, rows: range) -> list[list[int]]:
    """Return numbers of strips or tiles (of the first colour plane) that hold wanted rows, in handy groups."""
    tall = page.tilelength if page.is_tiled else page.rowsperstrip
    across = -(-page.imagewidth // page.tilewidth) if page.is_tiled else 1
    wide = page.tilewidth if page.is_tiled else page.imagewidth
    size = tall * wide * page.samplesperpixel * page.bitspersample // 8
    many = max(1, UNIT_BYTES // max(size, 1))
    bands = range(rows.start // tall, -(-rows.stop // tall))
    if page.is_tiled:
        lines = [range(band * across, (band + 1) * across) for band in bands]
    else:
        lines = [range(bands.start, bands.stop)]
    return [list(line[k : k + many]) for line in lines for k in range(0, len(line), many)]


def _coded_piece(path: Path, page: TiffPage, file: BinaryIO, lock: threading.Lock, index: int) -> Piece:
    """Return one decoded strip or tile; with separate colour planes, those of all planes side by side."""
    planes = page.samplesperpixel if page.planarconfig == 2 else 1
    step = len(page.dataoffsets) // planes
    parts = [_decoded(path, page, file, lock, index + plane * step) for plane in range(planes)]
    codes, row, column = parts[0]
    if planes > 1:
        codes = np.concatenate([part[0] for part in parts], axis=2)
    return Piece(_native(codes[: page.imagelength - row, : page.imagewidth - column]), row, column)


def _decoded(
    path: Path, page: TiffPage, file: BinaryIO, lock: threading.Lock, index: int
) -> tuple[npt.NDArray[np.generic], int, int]:
    """Return codes of one strip or tile, its row and its column."""
    data = _read(file, lock, page.dataoffsets[index], page.databytecounts[index])
    if is_lzw(page) and data:
        block = block_of(page, index)
        # What libtiff does not take is tried once more as all others are: that says what is wrong with it.
        with suppress(imagecodecs.TiffError):
            return undone(data, block, page.parent.byteorder), block.row, block.column
    extra = {"jpegtables": page.jpegtables, "jpegheader": page.jpegheader} if page.compression == 7 else {}
    codes, place, _ = page.decode(data, index, **extra)
    if codes is None:
        raise damaged(path, f"strip or tile {index + 1} is empty")
    return codes[0], place[2], place[3]
