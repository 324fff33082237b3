"""The head of a JPEG file.

References: ISO/IEC 10918-1 (ITU-T T.81) annex B, markers; ISO/IEC 10918-5 (ITU-T T.871), the JFIF head; Exif 2.3.
"""

import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from proofkit.scan.exif import PPI_PER_UNIT, Exif, read_exif
from proofkit.scan.header import Header, check_bits, damaged, fault, no_cmyk

SIGNATURE = b"\xff\xd8\xff"

_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_READABLE = frozenset({0xC0, 0xC1, 0xC2})
"""Frame markers of lossy JPEG with Huffman coding, baseline to progressive."""

_SCAN_START, _JFIF, _EXIF, _PROFILE = 0xDA, 0xE0, 0xE1, 0xE2
_PROFILE_HEAD = b"ICC_PROFILE\0"
_PLACEHOLDERS = (72, 96)
"""Resolutions that programs write when they know none. [px/inch] Common practice."""


@dataclass(slots=True)
class _Found:
    """What the segments before the first scan say, filled while walking."""

    frame: tuple[int, bytes] | None = None
    jfif_ppi: tuple[float, float] | None = None
    exif: Exif = field(default_factory=Exif)
    profile_parts: dict[int, bytes] = field(default_factory=dict)


def jpeg_header(path: Path) -> Header:
    """Return what the head of a JPEG file says.

    Raises
    ------
    ScanError
        If the file is damaged, breaks off or holds something else than grey or RGB of 8 bits.
    """
    data = path.read_bytes()
    found = _Found()
    for marker, body in _segments(path, data):
        _note(found, marker, body)
    if found.frame is None or len(found.frame[1]) < 6:
        raise damaged(path, "no picture size before the picture")
    marker, frame = found.frame
    bits, height, width, channels = struct.unpack_from(">BHHB", frame)
    if marker not in _READABLE:
        raise fault(
            path, "is a lossless or arithmetic-coded JPEG; common JPEG is read", "Save it again as TIFF."
        )
    check_bits(path, bits)
    if channels == 4:
        raise no_cmyk(path)
    if channels not in {1, 3} or width < 1 or height < 1:
        raise damaged(path, f"{width} x {height} px with {channels} channels")
    profile = b"".join(found.profile_parts[key] for key in sorted(found.profile_parts))
    return Header(
        kind="JPEG",
        width=width,
        height=height,
        bits=bits,
        channels=channels,
        ppi=_ppi(found),
        compression="jpeg",
        lossy=True,
        orientation=found.exif.orientation,
        icc_profile=profile or None,
        declared_curve="sRGB" if found.exif.is_srgb and not profile else "",
    )


def _segments(path: Path, data: bytes) -> Iterator[tuple[int, bytes]]:
    """Give marker and body of each segment before the first scan; then look for the end mark."""
    place = 2
    while place + 4 <= len(data):
        if data[place] != 0xFF:
            raise damaged(path, "a segment begins without its mark")
        marker = data[place + 1]
        if marker == 0xFF:  # filling
            place += 1
            continue
        length = struct.unpack_from(">H", data, place + 2)[0]
        if marker == _SCAN_START:
            # Inside coded data FF is always followed by 00 or a restart mark, so FF D9 is the end mark.
            if data.find(b"\xff\xd9", place + length) < 0:
                raise damaged(path, f"it breaks off after {len(data)} bytes without an end mark")
            return
        yield marker, data[place + 4 : place + 2 + length]
        place += 2 + length
    raise damaged(path, f"it breaks off after {len(data)} bytes before the picture")


def _note(found: _Found, marker: int, body: bytes) -> None:
    """Keep what a segment says."""
    if marker in _FRAMES:
        found.frame = (marker, body)
    elif marker == _JFIF and body[:5] == b"JFIF\0" and len(body) >= 12:
        unit, x, y = struct.unpack_from(">BHH", body, 7)
        factor = PPI_PER_UNIT.get(unit + 1)  # JFIF: 1 inch, 2 centimetre
        if factor and x and y:
            found.jfif_ppi = (x * factor, y * factor)
    elif marker == _EXIF and body[:6] == b"Exif\0\0":
        found.exif = read_exif(body[6:])
    elif marker == _PROFILE and body.startswith(_PROFILE_HEAD) and len(body) > 14:
        found.profile_parts[body[12]] = body[14:]


def _ppi(found: _Found) -> tuple[float, float] | None:
    """Return the resolution; where the JFIF head holds a placeholder and Exif another number, Exif is meant."""
    jfif, exif = found.jfif_ppi, found.exif.ppi
    if jfif and exif and round(jfif[0]) in _PLACEHOLDERS:
        return exif
    return jfif or exif
