"""Unpack the rows of a PNG file in bands, so that a sheet is never held whole."""

import zlib
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from proofkit.scan.header import damaged
from proofkit.scan.kernels import take_filters_off
from proofkit.scan.png import GREY, GREY_ALPHA, PALETTE, RGB, PngLayout

_SAMPLES = {GREY: 1, RGB: 3, PALETTE: 1, GREY_ALPHA: 2}
"""Samples of a pixel by colour type; RGB with alpha has 4."""

_READ_BYTES = 1 << 18


def png_bands(
    path: Path, layout: PngLayout, band_bytes: int
) -> Iterator[tuple[int, npt.NDArray[np.uint8] | npt.NDArray[np.uint16]]]:
    """Give the picture from the top in bands of rows.

    Parameters
    ----------
    path : Path
    layout : PngLayout
        Of this file, not interlaced.
    band_bytes : int
        About how many bytes of rows to hold at a time.

    Yields
    ------
    tuple
        First row and (rows, width, samples) codes; a palette is resolved into three samples.

    Raises
    ------
    ScanError
        If the compressed picture is broken or ends early.
    """
    samples = _SAMPLES.get(layout.colour_type, 4)
    pixel_bytes = samples * layout.bits // 8
    row_bytes = layout.width * pixel_bytes
    rows = max(1, min(layout.height, band_bytes // row_bytes))
    above = np.zeros(row_bytes, dtype=np.uint8)
    with path.open("rb") as file, ThreadPoolExecutor(1) as pool:
        stream = _Stream(path, file, layout)
        waiting = pool.submit(stream.take, min(rows, layout.height) * (row_bytes + 1))
        for row in range(0, layout.height, rows):
            count = min(rows, layout.height - row)
            filtered = np.frombuffer(waiting.result(), dtype=np.uint8)
            if filtered.size < count * (row_bytes + 1):
                raise damaged(path, f"its picture ends at row {row + filtered.size // (row_bytes + 1)}")
            waiting = pool.submit(stream.take, min(rows, layout.height - row - count) * (row_bytes + 1))
            plain = np.empty((count, row_bytes), dtype=np.uint8)
            if not take_filters_off(filtered.reshape(count, row_bytes + 1), above, plain, pixel_bytes):
                raise damaged(path, f"an unknown filter in rows {row} to {row + count - 1}")
            above = plain[-1].copy()
            yield row, _codes(path, plain, layout, samples)


def _codes(
    path: Path, plain: npt.NDArray[np.uint8], layout: PngLayout, samples: int
) -> npt.NDArray[np.uint8] | npt.NDArray[np.uint16]:
    """Return codes of unfiltered rows; PNG keeps 16-bit samples with the high byte first."""
    if layout.bits == 16:
        return plain.view(">u2").astype(np.uint16).reshape(len(plain), layout.width, samples)
    if layout.colour_type == PALETTE:
        colours = np.frombuffer(layout.palette, dtype=np.uint8)[: len(layout.palette) // 3 * 3].reshape(-1, 3)
        if int(plain.max()) >= len(colours):
            raise damaged(path, f"a pixel asks for colour {int(plain.max())} of a palette of {len(colours)}")
        return colours[plain]
    return plain.reshape(len(plain), layout.width, samples)


class _Stream:
    """The unpacked picture of a PNG file, taken from its start in portions."""

    def __init__(self, path: Path, file: BinaryIO, layout: PngLayout) -> None:
        self._path = path
        self._packed = _packed(file, layout)
        self._unpacker = zlib.decompressobj()

    def take(self, size: int) -> bytearray:
        """Return the next `size` bytes, fewer at the end of the picture."""
        taken = bytearray()
        try:
            while len(taken) < size and not self._unpacker.eof:
                packed = self._unpacker.unconsumed_tail or next(self._packed, b"")
                if not packed:
                    break
                taken += self._unpacker.decompress(packed, size - len(taken))
        except zlib.error as error:
            raise damaged(self._path, f"its picture cannot be unpacked: {error}") from error
        return taken


def _packed(file: BinaryIO, layout: PngLayout) -> Iterator[bytes]:
    """Give the compressed picture in blocks."""
    for offset, length in layout.data:
        file.seek(offset)
        for start in range(0, length, _READ_BYTES):
            yield file.read(min(_READ_BYTES, length - start))
