"""LZW strips and tiles, each handed to libtiff as a small TIFF file of its own.

libtiff undoes LZW in two thirds of the time of the decoder behind ``TiffPage.decode``, but reads files, not strips. So
a strip is given the head of a file with one strip: the layout is that of TIFF 6.0 (Adobe, 1992), section 2 for the
image file directory, 8 for its fields, 13 for LZW and 14 for the predictor.
"""

import struct
from typing import NamedTuple

import imagecodecs
import numpy as np
import numpy.typing as npt
from tifffile import TiffPage

GREY, RGB = 1, 2
"""Photometric interpretations, tag 262. [-]"""

_TYPES = {"H": 3, "I": 4}
"""Numbers of the types of fields, two and four bytes, by their letters in `struct`."""

_HEAD = 8
"""Length of the head of a file, before all else. [byte]"""


class Block(NamedTuple):
    """Where a strip or tile lies and what its codes are like."""

    row: int
    column: int
    rows: int
    """Rows that are coded: of the last strip those of the picture, of a tile all."""
    columns: int
    samples: int
    bits: int
    predictor: int


def is_lzw(page: TiffPage) -> bool:
    """Return whether the strips or tiles of a page can be undone by `undone`."""
    return page.compression == 5 and page.predictor in {1, 2} and page.fillorder == 1


def block_of(page: TiffPage, index: int) -> Block:
    """Return the place and layout of one strip or tile."""
    samples = page.samplesperpixel if page.planarconfig == 1 else 1
    likeness = (samples, page.bitspersample, page.predictor)
    if page.is_tiled:
        across = -(-page.imagewidth // page.tilewidth)
        down = -(-page.imagelength // page.tilelength)
        band, place = divmod(index % (across * down), across)
        return Block(
            band * page.tilelength, place * page.tilewidth, page.tilelength, page.tilewidth, *likeness
        )
    row = index % -(-page.imagelength // page.rowsperstrip) * page.rowsperstrip
    return Block(row, 0, min(page.rowsperstrip, page.imagelength - row), page.imagewidth, *likeness)


def undone(data: bytes, block: Block, byteorder: str) -> npt.NDArray[np.generic]:
    """Return the codes of a strip or tile.

    Parameters
    ----------
    data : bytes
        As they lie in the file.
    block : Block
    byteorder : {"<", ">"}
        Of the file.

    Returns
    -------
    ndarray
        (rows, columns, samples), native bytes.

    Raises
    ------
    imagecodecs.TiffError
        If the coding is damaged or breaks off.
    """
    codes = imagecodecs.tiff_decode(_as_file(data, block, byteorder))
    return codes.reshape(block.rows, block.columns, block.samples)


def _as_file(data: bytes, block: Block, byteorder: str) -> bytes:
    """Return a TIFF file with one strip: it comes first, so that where it begins is known."""
    colours = 3 if block.samples >= 3 else 1
    fields: list[tuple[int, str, tuple[int, ...]]] = [
        (256, "I", (block.columns,)),
        (257, "I", (block.rows,)),
        (258, "H", (block.bits,) * block.samples),
        (259, "H", (5,)),
        (262, "H", (RGB if colours == 3 else GREY,)),
        (273, "I", (_HEAD,)),
        (277, "H", (block.samples,)),
        (278, "I", (block.rows,)),
        (279, "I", (len(data),)),
        (317, "H", (block.predictor,)),
    ]
    if block.samples > colours:
        fields.append((338, "H", (0,) * (block.samples - colours)))
    gap = bytes(len(data) % 2)
    directory_at = _HEAD + len(data) + len(gap)
    values_at = directory_at + 2 + 12 * len(fields) + 4
    directory, values = [struct.pack(byteorder + "H", len(fields))], b""
    for tag, kind, numbers in fields:
        value = struct.pack(f"{byteorder}{len(numbers)}{kind}", *numbers)
        if len(value) > 4:
            value, values = struct.pack(byteorder + "I", values_at + len(values)), values + value
        directory.append(
            struct.pack(byteorder + "HHI", tag, _TYPES[kind], len(numbers)) + value.ljust(4, b"\0")
        )
    head = struct.pack(byteorder + "2sHI", b"II" if byteorder == "<" else b"MM", 42, directory_at)
    return b"".join((head, data, gap, *directory, bytes(4), values))
