"""The few fields of an Exif block that matter for measuring: orientation, resolution and colour space."""

import struct
from dataclasses import dataclass

from proofkit.units import MM_PER_INCH

_ORIENTATION, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT = 274, 282, 283, 296
_EXIF_FOLDER, _COLOUR_SPACE = 0x8769, 0xA001
_SHORT, _LONG, _RATIONAL = 3, 4, 5

PPI_PER_UNIT = {2: 1.0, 3: MM_PER_INCH / 10}
"""Factor to px/inch for the resolution units of TIFF 6.0 and Exif: 2 inch, 3 centimetre."""


@dataclass(frozen=True, slots=True)
class Exif:
    """What an Exif block says."""

    orientation: int = 1
    ppi: tuple[float, float] | None = None
    """Along stored rows and columns. [px/inch]"""
    is_srgb: bool = False


def read_exif(block: bytes) -> Exif:
    """Return the fields of an Exif block; those that are missing or broken keep their default.

    Parameters
    ----------
    block : bytes
        From the byte-order mark on (after ``Exif`` and two zero bytes in a JPEG).

    Returns
    -------
    Exif

    References
    ----------
    .. [1] TIFF 6.0 (1992), section 2 (folders of fields), and Exif 2.3, 4.6 (tag numbers).
    """
    order = {b"II": "<", b"MM": ">"}.get(block[:2])
    if order is None or len(block) < 8:
        return Exif()
    fields = _fields(block, order, struct.unpack_from(order + "I", block, 4)[0])
    folder = fields.get(_EXIF_FOLDER)
    inner = _fields(block, order, int(folder)) if folder else {}
    orientation = int(fields.get(_ORIENTATION, 1))
    factor = PPI_PER_UNIT.get(int(fields.get(_RESOLUTION_UNIT, 2)), 0.0)
    x = fields.get(_X_RESOLUTION, 0.0) * factor
    y = fields.get(_Y_RESOLUTION, fields.get(_X_RESOLUTION, 0.0)) * factor
    return Exif(
        orientation=orientation if 1 <= orientation <= 8 else 1,
        ppi=(x, y) if x > 0 and y > 0 else None,
        is_srgb=inner.get(_COLOUR_SPACE) == 1,
    )


def _fields(block: bytes, order: str, offset: int) -> dict[int, float]:
    """Return the numeric fields with one value of the folder at `offset`."""
    found: dict[int, float] = {}
    if offset + 2 > len(block):
        return found
    count = struct.unpack_from(order + "H", block, offset)[0]
    for start in range(offset + 2, min(offset + 2 + 12 * count, len(block) - 11), 12):
        tag, kind, values = struct.unpack_from(order + "HHI", block, start)
        if values != 1:
            continue
        if kind == _SHORT:
            found[tag] = struct.unpack_from(order + "H", block, start + 8)[0]
        elif kind == _LONG:
            found[tag] = struct.unpack_from(order + "I", block, start + 8)[0]
        elif kind == _RATIONAL:
            place = struct.unpack_from(order + "I", block, start + 8)[0]
            if place + 8 <= len(block):
                upper, lower = struct.unpack_from(order + "II", block, place)
                found[tag] = upper / lower if lower else 0.0
    return found
