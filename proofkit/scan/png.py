"""The head of a PNG file.

Reference: *Portable Network Graphics (PNG) Specification*, W3C Recommendation, third edition (2025), ISO/IEC 15948.
"""

import struct
import zlib
from dataclasses import dataclass
from pathlib import Path

from proofkit.scan.exif import Exif, read_exif
from proofkit.scan.header import Header, check_bits, damaged, several_pictures
from proofkit.units import MM_PER_INCH

SIGNATURE = b"\x89PNG\r\n\x1a\n"

GREY, RGB, PALETTE, GREY_ALPHA, RGB_ALPHA = 0, 2, 3, 4, 6
"""Colour types of the header chunk."""

_LONGEST_KEPT = 64_000_000
"""Longest side chunk that is looked into. [byte]"""


@dataclass(frozen=True, slots=True)
class PngLayout:
    """Where the compressed picture lies in a PNG file and how its rows are packed."""

    width: int
    height: int
    bits: int
    colour_type: int
    interlaced: bool
    palette: bytes
    """Three bytes a colour; empty without a palette."""
    data: tuple[tuple[int, int], ...]
    """Offset and length of each piece of compressed picture. [byte]"""
    sides: dict[bytes, bytes]
    """First of each side chunk that matters here."""


def png_layout(path: Path) -> PngLayout:
    """Return the layout of a PNG file by walking its chunks.

    Raises
    ------
    ScanError
        If the file is damaged, breaks off or is animated.
    """
    size = path.stat().st_size
    data: list[tuple[int, int]] = []
    sides: dict[bytes, bytes] = {}
    with path.open("rb") as file:
        file.seek(len(SIGNATURE))
        while True:
            head = file.read(8)
            if len(head) < 8:
                raise damaged(path, "it breaks off before its end mark")
            length, name = struct.unpack(">I4s", head)
            start = file.tell()
            if start + length + 4 > size:
                raise damaged(path, f"it breaks off: {size} bytes are there, {start + length + 4} are needed")
            if name == b"IDAT":
                data.append((start, length))
            elif name == b"IEND":
                break
            elif name in _WANTED and length <= _LONGEST_KEPT:
                sides.setdefault(name, file.read(length))
            file.seek(start + length + 4)
    return _layout(path, data, sides)


_WANTED = frozenset({b"IHDR", b"PLTE", b"pHYs", b"iCCP", b"gAMA", b"sRGB", b"eXIf", b"acTL"})


def _layout(path: Path, data: list[tuple[int, int]], sides: dict[bytes, bytes]) -> PngLayout:
    """Return the layout from the chunks that were found."""
    head = sides.get(b"IHDR", b"")
    if len(head) != 13 or not data:
        raise damaged(path, "its header or its picture is missing")
    width, height, bits, colour_type, _, _, interlaced = struct.unpack(">IIBBBBB", head)
    frames = sides.get(b"acTL", b"")
    if len(frames) == 8 and struct.unpack(">I", frames[:4])[0] > 1:
        raise several_pictures(path, struct.unpack(">I", frames[:4])[0])
    if width < 1 or height < 1 or colour_type not in {GREY, RGB, PALETTE, GREY_ALPHA, RGB_ALPHA}:
        raise damaged(path, f"{width} x {height} px of colour type {colour_type}")
    palette = sides.get(b"PLTE", b"") if colour_type == PALETTE else b""
    if colour_type == PALETTE and not palette:
        raise damaged(path, "its palette is missing")
    return PngLayout(width, height, bits, colour_type, bool(interlaced), palette, tuple(data), sides)


def png_header(path: Path) -> Header:
    """Return what the head of a PNG file says; see `png_layout` for the errors."""
    layout = png_layout(path)
    check_bits(path, layout.bits)
    exif = read_exif(layout.sides.get(b"eXIf", b""))
    profile = _profile(path, layout)
    return Header(
        kind="PNG",
        width=layout.width,
        height=layout.height,
        bits=layout.bits,
        channels=1 if layout.colour_type in {GREY, GREY_ALPHA} else 3,
        ppi=_ppi(layout, exif),
        compression="png",
        lossy=layout.colour_type == PALETTE and not _is_grey(layout.palette),
        orientation=exif.orientation,
        icc_profile=profile,
        declared_curve="" if profile else _declared(layout),
    )


def _is_grey(palette: bytes) -> bool:
    return palette[0::3] == palette[1::3] == palette[2::3]


def _ppi(layout: PngLayout, exif: Exif) -> tuple[float, float] | None:
    chunk = layout.sides.get(b"pHYs", b"")
    if len(chunk) == 9:
        x, y, unit = struct.unpack(">IIB", chunk)
        if unit == 1 and x and y:  # pixels per metre
            return x * MM_PER_INCH / 1000, y * MM_PER_INCH / 1000
    return exif.ppi


def _profile(path: Path, layout: PngLayout) -> bytes | None:
    """Return the embedded profile: a name, a zero byte, the method (0) and the compressed profile."""
    chunk = layout.sides.get(b"iCCP", b"")
    _, _, packed = chunk.partition(b"\0")
    if len(packed) < 2:
        return None
    try:
        return zlib.decompressobj().decompress(packed[1:], _LONGEST_KEPT)
    except zlib.error as error:
        raise damaged(path, "its embedded profile cannot be unpacked") from error


def _declared(layout: PngLayout) -> str:
    """Return the tone curve that the side chunks declare; gAMA holds 100000 times the encoding exponent."""
    if b"sRGB" in layout.sides:
        return "sRGB"
    chunk = layout.sides.get(b"gAMA", b"")
    value = struct.unpack(">I", chunk)[0] if len(chunk) == 4 else 0
    if value == 100000:
        return "linear"
    return f"gamma {100000 / value:.4g}" if value else ""
