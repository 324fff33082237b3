"""Embedded colour profiles: the curves and the primaries of matrix profiles and of grey profiles.

Reference: ICC.1:2022 (also ISO 15076-1): header, tag table, the tags of input and display profiles, and the element
types `curv`, `mluc`, `para` and `XYZ`; the text description type of version 2 is from ICC.1:2001-04.
Profiles that hold only multidimensional tables are not read.
"""

import struct
from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats
from proofkit.errors import CalibrationError
from proofkit.reflectance.colour import D50_TO_D65, LUMINANCE_WEIGHTS, SRGB_TO_XYZ
from proofkit.scan.types import Scan, ScanFile, ToneCurve

NAME_START = "embedded profile"
"""How the name of a curve from a profile begins."""

_ADVICE = "Write tone_curve = 'sRGB' (or another curve) or a step wedge under [capture] in edition.toml."

_PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}
"""Number of parameters of each kind of parametric curve, ICC.1:2022 table 68."""

_LEAST_WEIGHT = 1e-6
"""Least share of a primary in luminance; real primaries have more. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """What a profile says, for a scan of 1 or 3 channels."""

    name: str
    curves: tuple[Floats, ...]
    """One for grey, three for RGB: linear light at evenly spaced codes. [-]"""
    matrix: Floats | None
    """(3, 3) linear RGB to XYZ with white D50; None for grey."""
    is_lightness: bool
    """True when the curve of a grey profile leads to L* / 100 instead of Y."""


def profile_curve(file: ScanFile) -> ToneCurve:
    """Return the tone curve that the profile embedded in a scan describes.

    Raises
    ------
    CalibrationError
        If there is no profile, it is damaged, or it is of a kind that is not read.

    Notes
    -----
    Luminance is Y of the profile's own primaries, relative to its white (D50, as profiles are).
    """
    if not file.icc_profile:
        raise CalibrationError(
            f"Scan '{file.path.name}' has no embedded profile, which tone_curve asks for. {_ADVICE}"
        )
    profile = _read(file, 1 << file.bits)
    if file.channels == 1 and len(profile.curves) == 3:
        tables = np.asarray(profile.curves)
        if np.ptp(tables, axis=0).max() > 1e-4:
            raise _unusable(file, "has different curves for red, green and blue, but the scan is grey")
        curves: Floats = tables[:1]
    elif file.channels == 3 and len(profile.curves) == 1:
        raise _unusable(file, "is for grey, but the scan is RGB")
    else:
        curves = np.asarray(profile.curves)
    return ToneCurve(
        tables=curves.astype(np.float32),
        weights=(1.0,) if file.channels == 1 else _weights(profile),
        name=f'{NAME_START} "{profile.name}"',
    )


def rgb_to_xyz(scan: Scan) -> Floats:
    """Return the matrix from linear RGB of a scan's overview to XYZ with white D65. Shape (3, 3)."""
    if scan.curve.startswith(NAME_START) and scan.file.channels == 3:
        matrix = _read(scan.file, 2).matrix
        if matrix is not None:
            return np.asarray(D50_TO_D65 @ matrix)
    return SRGB_TO_XYZ


def _weights(profile: Profile) -> tuple[float, ...]:
    """Return the share of each channel in luminance."""
    if profile.matrix is None:
        return LUMINANCE_WEIGHTS
    middle = profile.matrix[1]
    return tuple((middle / middle.sum()).tolist())


def _unusable(file: ScanFile, why: str) -> CalibrationError:
    return CalibrationError(f"The profile in scan '{file.path.name}' {why}. {_ADVICE}")


def _read(file: ScanFile, codes: int) -> Profile:
    """Return the profile of a scan with curves of `codes` values."""
    data = file.icc_profile or b""
    try:
        return _profile(file, data, codes)
    except (struct.error, IndexError, OverflowError) as error:
        raise _unusable(file, "is damaged: it ends early") from error


def _profile(file: ScanFile, data: bytes, codes: int) -> Profile:
    """Parse a profile; too short a profile rises as struct.error."""
    space, connection, mark = struct.unpack_from(">4s4s12x4s", data, 16)
    if mark != b"acsp":
        raise _unusable(file, "is damaged: its mark 'acsp' is missing")
    tags = _tags(data)
    name = _name(tags.get(b"desc", b""))
    x = np.linspace(0.0, 1.0, codes)
    if space == b"GRAY" and b"kTRC" in tags:
        is_lightness = connection == b"Lab "
        curve = _curve(file, tags[b"kTRC"], x)
        return Profile(name, (_luminance(curve) if is_lightness else curve,), None, is_lightness)
    if space not in {b"RGB ", b"GRAY"}:
        raise _unusable(
            file, f"is for colours of kind '{space.decode('latin-1').strip()}'; RGB and grey are read"
        )
    wanted = [b"rTRC", b"gTRC", b"bTRC", b"rXYZ", b"gXYZ", b"bXYZ"]
    if any(tag not in tags for tag in wanted):
        raise _unusable(
            file, f'"{name}" describes colours by tables only; a profile of curves and primaries is read'
        )
    matrix = np.column_stack([struct.unpack_from(">3i", tags[tag], 8) for tag in wanted[3:]]) / 65536
    if matrix[1].min() < _LEAST_WEIGHT or not 0.5 < matrix[1].sum() < 1.5:
        raise _unusable(
            file, f"has primaries of luminance {', '.join(f'{y:.4f}' for y in matrix[1])}; shares of 1"
        )
    return Profile(name, tuple(_curve(file, tags[tag], x) for tag in wanted[:3]), matrix, is_lightness=False)


def _tags(data: bytes) -> dict[bytes, bytes]:
    """Return the tagged elements by signature."""
    count = min(struct.unpack_from(">I", data, 128)[0], 1000)
    entries = (struct.unpack_from(">4sII", data, 132 + 12 * k) for k in range(count))
    return {signature: data[offset : offset + size] for signature, offset, size in entries}


def _curve(file: ScanFile, element: bytes, x: Floats) -> Floats:
    """Return linear light of codes `x` from a `curv` or `para` element."""
    kind = element[:4]
    if kind == b"curv":
        count = struct.unpack_from(">I", element, 8)[0]
        if count == 0:
            return x
        values = np.array(struct.unpack_from(f">{min(count, 1 << 20)}H", element, 12), dtype=np.float64)
        if count == 1:
            return np.asarray(x ** (values[0] / 256))
        return np.interp(x, np.linspace(0.0, 1.0, count), values / 65535)
    if kind == b"para":
        function = struct.unpack_from(">H", element, 8)[0]
        if function in _PARAMETERS:
            numbers = struct.unpack_from(f">{_PARAMETERS[function]}i", element, 12)
            return _parametric(function, [number / 65536 for number in numbers], x)
    raise _unusable(file, f"has a curve of an unknown kind '{kind.decode('latin-1')}'")


def _parametric(function: int, numbers: list[float], x: Floats) -> Floats:
    """Return a parametric curve, ICC.1:2022 table 68, clipped to 0 to 1."""
    g, a, b, c, d, e, f = (numbers + [1.0, 0.0, 0.0, 0.0, 0.0, 0.0][len(numbers) - 1 :])[:7]
    if function == 0:
        return np.asarray(x**g)
    power = np.maximum(a * x + b, 0.0) ** g
    if function == 1:
        values = np.where(a * x + b >= 0, power, 0.0)
    elif function == 2:
        values = np.where(a * x + b >= 0, power, 0.0) + c
    elif function == 3:
        values = np.where(x >= d, power, c * x)
    else:
        values = np.where(x >= d, power + e, c * x + f)
    return np.clip(values, 0.0, 1.0)


def _luminance(lightness_fraction: Floats) -> Floats:
    """Return Y of L* / 100, the inverse of CIE 15:2004, 8.2.1.1."""
    f = (lightness_fraction * 100 + 16) / 116
    return np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))


def _name(element: bytes) -> str:
    """Return the description of a profile, one short line of plain characters."""
    text = ""
    if element[:4] == b"desc" and len(element) >= 12:
        length = struct.unpack_from(">I", element, 8)[0]
        text = element[12 : 12 + length].decode("latin-1")
    elif element[:4] == b"mluc" and len(element) >= 28:
        length, offset = struct.unpack_from(">II", element, 20)
        text = element[offset : offset + length].decode("utf-16-be", errors="replace")
    plain = "".join(character for character in text if character.isprintable() and character != '"').strip()
    return plain[:60] or "without a name"
