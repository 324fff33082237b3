"""Undo the LZW coding of TIFF, faster than the libraries do: strings are copied from where they stand in the result."""

import imagecodecs
import numpy as np
import numpy.typing as npt
from tifffile import TiffPage

from proofkit.scan.compiling import kernel

Bytes = npt.NDArray[np.uint8]

CLEAR, END = 256, 257
"""Codes that empty the table and end the data."""

MOST_CODES = 4096
"""Codes have at most 12 bits."""

HEAD = 256
"""Bytes before a result: each of them once, as strings of one byte."""

SLACK = 16
"""Bytes after the end of a result that may be written over: strings are copied eight bytes at once."""

_LENGTH_BITS = 16
"""A string's place and length are kept in one number; no string is longer than there are codes."""


@kernel
def undo_lzw(coded: Bytes, plain: Bytes) -> int:
    """Write what LZW codes stand for; return the number of bytes, -1 where the codes make no sense.

    Parameters
    ----------
    coded : (n,) uint8
    plain : (HEAD + m + SLACK,) uint8
        Room for m bytes after the first `HEAD`; changed.

    Notes
    -----
    Each code but the first after a `CLEAR` enters a new string: the one before and the first byte of its own. In the
    result these follow each other, so that the table needs to hold only where they begin and how long they are. Single
    bytes are strings as well, of a head that holds each byte once: which kind comes next cannot be guessed.

    References
    ----------
    .. [1] TIFF Revision 6.0 (1992), section 13: codes of 9 to 12 bits, highest bit first, which become longer when
       511, 1023 and 2047 are entered; 256 clears the table, 257 ends the data.
    """
    table = np.empty(MOST_CODES, np.int64)
    for byte in range(HEAD):
        plain[byte] = byte
        table[byte] = byte << _LENGTH_BITS | 1
    read, at = np.uint64(0), HEAD
    held, bits, width = np.uint64(0), 0, 9
    before, before_length, entries = 0, 0, END + 1
    while True:
        if bits < width:
            read, held, bits = _more_bits(coded, read, held, bits)
            if bits < width:
                return at - HEAD
        bits -= width
        code = np.int64((held >> np.uint64(bits)) & np.uint64((1 << width) - 1))
        if code >> 1 == CLEAR >> 1:
            if code == END:
                return at - HEAD
            before_length, entries, width = 0, END + 1, 9
            continue
        if before_length and entries < MOST_CODES:
            table[np.uint64(entries)] = before << _LENGTH_BITS | (before_length + 1)
            entries += 1
        string = table[np.uint64(code)]
        length = string & ((1 << _LENGTH_BITS) - 1)
        if code >= entries or at + length > plain.size - SLACK:
            return -1
        _copy(plain, string >> _LENGTH_BITS, at, length)
        before, before_length = at, length
        at += length
        if entries >= (1 << width) - 1 and width < 12:
            width += 1


@kernel
def _more_bits(coded: Bytes, read: np.uint64, held: np.uint64, bits: int) -> tuple[np.uint64, np.uint64, int]:
    """Return bytes read, bits held and their number after taking as many bytes as can be held."""
    while bits <= 48 and read < np.uint64(coded.size):
        held = (held << np.uint64(8)) | np.uint64(coded[read])
        read += np.uint64(1)
        bits += 8
    return read, held, bits


@kernel
def _copy(plain: Bytes, source: int, target: int, length: int) -> None:
    """Copy a string, byte after byte: it may run into what is written here."""
    here, there = np.uint64(source), np.uint64(target)
    for k in range(np.uint64(8)):  # most strings are shorter: no branch to be guessed wrongly
        plain[there + k] = plain[here + k]
    for k in range(np.uint64(8), np.uint64(length)):
        plain[there + k] = plain[here + k]


def is_plain_lzw(page: TiffPage) -> bool:
    """Return whether a page is coded by LZW as `lzw_piece` undoes it: whole bytes, samples of a pixel side by side."""
    return (
        page.compression == 5
        and page.predictor in {1, 2}
        and page.planarconfig == 1
        and page.fillorder == 1
        and page.bitspersample in {8, 16}
        and page.sampleformat == 1
    )


def _begins_cleared(coded: Bytes) -> bool:
    """Return whether data begin with `CLEAR`, highest bit first; very old files have the lowest bit first."""
    return len(coded) > 1 and int(coded[0]) << 1 | int(coded[1]) >> 7 == CLEAR


def lzw_piece(page: TiffPage, data: bytes, index: int) -> tuple[npt.NDArray[np.generic], int, int] | None:
    """Return codes of a strip or tile (rows, columns, samples), its row and its column.

    None where its data do not hold what they should: the library then says what is wrong with them.
    """
    if page.is_tiled:
        across = -(-page.imagewidth // page.tilewidth)
        row, column = (index // across) * page.tilelength, (index % across) * page.tilewidth
        rows, columns = page.tilelength, page.tilewidth
    else:
        row, column = index * page.rowsperstrip, 0
        rows, columns = min(page.rowsperstrip, page.imagelength - row), page.imagewidth
    shape = rows, columns, page.samplesperpixel
    wanted = rows * columns * page.samplesperpixel * page.bitspersample // 8
    plain = np.empty(HEAD + wanted + SLACK, dtype=np.uint8)
    coded = np.frombuffer(data, dtype=np.uint8)
    if not _begins_cleared(coded) or undo_lzw(coded, plain) != wanted:
        return None
    stored = (
        plain[HEAD : HEAD + wanted].view(f"{page.parent.byteorder}u{page.bitspersample // 8}").reshape(shape)
    )
    codes = stored.astype(stored.dtype.newbyteorder("="), copy=False)
    if page.predictor == 2:
        imagecodecs.delta_decode(codes, axis=1, out=codes)
    return codes, row, column
