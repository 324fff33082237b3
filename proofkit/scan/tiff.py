"""The head of a TIFF file: which picture of it is the sheet, and how its strips or tiles are laid out."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tifffile import TiffFile, TiffPage

from proofkit.errors import ProofkitError
from proofkit.scan.exif import PPI_PER_UNIT
from proofkit.scan.header import (
    DAMAGE,
    Header,
    check_bits,
    damaged,
    fault,
    first_line,
    no_cmyk,
    several_pictures,
)

COMPRESSIONS = {
    1: "none",
    5: "lzw",
    7: "jpeg",
    8: "deflate",
    32946: "deflate",
    32773: "packbits",
    34925: "lzma",
    50000: "zstd",
}
"""Compressions that are read, by the number in tag 259 (TIFF 6.0 and its registered additions)."""

GREY_FROM_WHITE, GREY, RGB, PALETTE, INKS, YCBCR = 0, 1, 2, 3, 5, 6
"""Photometric interpretations of TIFF 6.0, tag 262."""

logging.getLogger("tifffile").addHandler(logging.NullHandler())  # faults rise as ScanError, in one line

_SAME_SHAPE = 0.02
"""How far the aspect ratio of a smaller copy may be off, as its sides are rounded. [-]"""


@contextmanager
def open_page(path: Path) -> Iterator[TiffPage]:
    """Give the full picture of a TIFF file; every fault of the file rises as ScanError."""
    try:
        with TiffFile(path) as tiff:
            yield _full_page(path, tiff)
    except ProofkitError:
        raise
    except DAMAGE as error:
        raise damaged(path, first_line(error)) from error


def tiff_header(path: Path) -> Header:
    """Return what the head of a TIFF file says.

    Raises
    ------
    ScanError
        If the file is damaged, breaks off, or holds something else than one grey or RGB picture of 8 or 16 bits.
    """
    with open_page(path) as page:
        _check_pixels(path, page)
        _check_whole(path, page)
        return Header(
            kind="TIFF",
            width=page.imagewidth,
            height=page.imagelength,
            bits=_bits(page),
            channels=1 if page.photometric in {GREY_FROM_WHITE, GREY} else 3,
            ppi=_ppi(page),
            compression=COMPRESSIONS[page.compression],
            lossy=COMPRESSIONS[page.compression] == "jpeg",
            orientation=_orientation(page),
            icc_profile=_profile(page),
        )


def is_grey_from_white(page: TiffPage) -> bool:
    """Return whether code 0 of the page means white."""
    return int(page.photometric) == GREY_FROM_WHITE


def _full_page(path: Path, tiff: TiffFile) -> TiffPage:
    """Return the one full-size picture; smaller copies of it and masks are passed over."""
    pages = [page for page in tiff.pages if isinstance(page, TiffPage)]
    whole = [page for page in pages if not page.subfiletype & 0b101] or pages
    if not whole:
        raise damaged(path, "it holds no picture")
    full = max(whole, key=lambda page: page.imagewidth * page.imagelength)
    others = [page for page in whole if page is not full and not _is_smaller_copy(page, full)]
    if others:
        raise several_pictures(path, 1 + len(others))
    return full


def _is_smaller_copy(page: TiffPage, full: TiffPage) -> bool:
    """Return whether a page can be a reduced copy of the full picture, going by its size."""
    if page.imagewidth >= full.imagewidth or page.imagelength >= full.imagelength:
        return False
    ratio = page.imagewidth * full.imagelength / max(page.imagelength * full.imagewidth, 1)
    rounding = 1.0 / max(min(page.imagewidth, page.imagelength), 1)
    return abs(ratio - 1) < _SAME_SHAPE + rounding


def _bits(page: TiffPage) -> int:
    bits = page.bitspersample
    return int(bits) if isinstance(bits, int) else int(max(bits))


def _check_pixels(path: Path, page: TiffPage) -> None:
    """Raise ScanError unless the pixels are grey or RGB of 8 or 16 bits, compressed in a known way."""
    if page.imagewidth < 1 or page.imagelength < 1 or page.imagedepth != 1:
        raise fault(
            path,
            f"is {page.imagewidth} x {page.imagelength} px; a flat picture of at least 1 x 1 px is needed",
            "Scan the sheet again.",
        )
    sample_format = page.tags.valueof(339, 1)
    if any(kind != 1 for kind in (sample_format if isinstance(sample_format, tuple) else (sample_format,))):
        raise fault(
            path,
            f"holds {_bits(page)}-bit numbers that are signed or floating point; whole numbers of 8 or 16 bits from 0 "
            "on are read",
            "Save it again as 16-bit TIFF.",
        )
    check_bits(path, _bits(page))
    _check_colours(path, page)
    if page.compression not in COMPRESSIONS:
        raise fault(
            path,
            f"has compression {int(page.compression)}; none, LZW, deflate, zstd, LZMA, PackBits or JPEG is read",
            "Save it again as TIFF without compression or with LZW.",
        )


def _check_colours(path: Path, page: TiffPage) -> None:
    """Raise ScanError unless the photometric interpretation is grey or RGB (JPEG's own YCbCr included)."""
    photometric = int(page.photometric)
    if photometric == INKS:
        raise no_cmyk(path)
    readable = {GREY_FROM_WHITE, GREY, RGB} | ({YCBCR} if page.compression == 7 else set())
    if photometric not in readable:
        kind = (
            "palette colours" if photometric == PALETTE else f"colours of kind {photometric} (TIFF tag 262)"
        )
        raise fault(path, f"holds {kind}; grey or RGB is read", "Save it again as 16-bit grey or RGB TIFF.")
    if photometric in {RGB, YCBCR} and page.samplesperpixel < 3:
        raise damaged(path, f"RGB with {page.samplesperpixel} channels")


def _check_whole(path: Path, page: TiffPage) -> None:
    """Raise ScanError if a strip or tile is missing or lies beyond the end of the file."""
    size = path.stat().st_size
    pieces = list(zip(page.dataoffsets, page.databytecounts, strict=False))
    expected = 1
    for count in page.chunked:
        expected *= count
    if len(pieces) < expected or any(count < 1 or offset < 1 for offset, count in pieces):
        raise damaged(path, f"{expected} strips or tiles are announced, not all are there")
    end = max(offset + count for offset, count in pieces)
    if end > size:
        raise damaged(path, f"it breaks off: {size} bytes are there, {end} are needed")


def _ppi(page: TiffPage) -> tuple[float, float] | None:
    unit = PPI_PER_UNIT.get(int(page.tags.valueof(296, 2)))
    x, y = (_ratio(page.tags.valueof(code)) for code in (282, 283))
    if unit is None or not x:
        return None
    return x * unit, (y or x) * unit


def _ratio(value: object) -> float:
    """Return a rational tag as a number; 0 when it is missing or has no denominator."""
    if isinstance(value, tuple) and len(value) == 2 and value[1]:
        return float(value[0]) / float(value[1])
    return 0.0


def _orientation(page: TiffPage) -> int:
    value = page.tags.valueof(274, 1)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _profile(page: TiffPage) -> bytes | None:
    value = page.tags.valueof(34675)
    return value if isinstance(value, bytes) and value else None
