"""Tone curves by name: how the codes of a file become linear light."""

import re
from dataclasses import replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats
from proofkit.errors import CalibrationError
from proofkit.folder.edition import Capture
from proofkit.quality import Quality
from proofkit.reflectance.colour import LUMINANCE_WEIGHTS
from proofkit.reflectance.profile import profile_curve
from proofkit.reflectance.wedge import wedge_curve
from proofkit.scan.types import ScanFile, ToneCurve

GAMMA_DEFAULT = 2.2
"""Exponent when only `gamma` is said; the common encoding exponent of scanner software. Common practice."""

GAMMA_MIN, GAMMA_MAX = 1.0, 3.0
"""Exponents that are believed; 1 is linear, encodings in use lie between 1.8 and 2.4. [-]"""

ALLOWED = "sRGB, linear, gamma 2.2 (or another number from 1 to 3), icc or wedge"
"""What `tone_curve` in edition.toml may say."""

_Kind = Literal["sRGB", "linear", "gamma", "icc", "wedge"]

_NAMES: dict[str, _Kind] = {
    "srgb": "sRGB",
    "iec6196621": "sRGB",
    "linear": "linear",
    "lin": "linear",
    "icc": "icc",
    "iccprofile": "icc",
    "embedded": "icc",
    "embeddedprofile": "icc",
    "embeddedicc": "icc",
    "profile": "icc",
    "wedge": "wedge",
    "stepwedge": "wedge",
}

_GAMMA = re.compile(r"(?:gamma|g)?\s*[=:]?\s*(\d+(?:[.,]\d+)?)", re.IGNORECASE)


def tone_curve(file: ScanFile, capture: Capture) -> ToneCurve:
    """Return how the codes of a scan become linear light.

    Parameters
    ----------
    file : ScanFile
    capture : Capture
        `tone_curve` decides when it is given, then a wedge, then the profile in the file, then what the file
        declares otherwise; without any of these sRGB is assumed.

    Returns
    -------
    ToneCurve
        With ``Quality.CURVE_ASSUMED`` when nothing was said, with ``Quality.NO_WEDGE`` when the wedge cannot be used
        and the scan's own profile or sRGB stands in; the name says why.

    Raises
    ------
    CalibrationError
        If the text is none of `ALLOWED`, the profile cannot be used, or a wedge is asked for and not described.

    Notes
    -----
    Grey files have one table and weight 1. RGB files by name or wedge are weighted with the luminance of the
    sRGB primaries, those with a profile by the profile's primaries.
    """
    kind, gamma, source = _choice(file, capture)
    if kind == "icc":
        return profile_curve(file)
    if kind == "wedge":
        if capture.wedge is None:
            raise CalibrationError(
                "tone_curve = 'wedge', but no wedge is described; its densities and corners are needed. "
                "Write wedge = { densities = [...], corners = [...] } under [capture] in edition.toml."
            )
        try:
            return wedge_curve(file, capture.wedge)
        except CalibrationError as error:
            return _without_wedge(file, str(error))
    return _stated_curve(file, kind, gamma, source)


def _without_wedge(file: ScanFile, reason: str) -> ToneCurve:
    """Return the curve that a scan has by itself where its wedge cannot be used; the reason goes into its name."""
    kind, gamma, source = _choice(file, Capture())
    curve = profile_curve(file) if kind == "icc" else _stated_curve(file, kind, gamma, source)
    return replace(
        curve, name=f"{curve.name}, as the wedge failed: {reason}", quality=curve.quality | Quality.NO_WEDGE
    )


def _stated_curve(file: ScanFile, kind: _Kind, gamma: float, source: str) -> ToneCurve:
    """Return a curve by its name."""
    codes = np.linspace(0.0, 1.0, 1 << file.bits)
    light = srgb_to_linear(codes) if kind == "sRGB" else codes**gamma
    name = f"gamma {gamma:g}" if kind == "gamma" else kind
    return ToneCurve(
        tables=np.tile(light.astype(np.float32), (file.channels, 1)),
        weights=LUMINANCE_WEIGHTS if file.channels == 3 else (1.0,),
        name=f"{name} ({source})" if source else name,
        quality=Quality.CURVE_ASSUMED if source == "assumed" else Quality.NONE,
    )


def srgb_to_linear(codes: npt.ArrayLike) -> Floats:
    """Return linear light of sRGB codes.

    Parameters
    ----------
    codes : array_like
        Codes from 0 to 1, any shape. [-]

    Returns
    -------
    Floats
        Linear light from 0 to 1.

    References
    ----------
    .. [1] IEC 61966-2-1:1999, 5.2, equations 5 and 6.

    Examples
    --------
    >>> srgb_to_linear([0.0, 128 / 255, 1.0]).round(6).tolist()
    [0.0, 0.215861, 1.0]
    """
    values = np.asarray(codes, dtype=np.float64)
    return np.where(values <= 0.04045, values / 12.92, ((np.maximum(values, 0.0) + 0.055) / 1.055) ** 2.4)


def _choice(file: ScanFile, capture: Capture) -> tuple[_Kind, float, str]:
    """Return kind and exponent of the curve, and who said so (empty: edition.toml)."""
    if capture.tone_curve is not None and capture.tone_curve.strip():
        return (*_parsed(capture.tone_curve), "")
    if capture.wedge is not None:
        return "wedge", 1.0, ""
    if file.icc_profile:
        return "icc", 1.0, ""
    if file.declared_curve:
        return (*_parsed(file.declared_curve), "declared by the file")
    return "sRGB", 1.0, "assumed"


def _parsed(text: str) -> tuple[_Kind, float]:
    """Return kind and exponent that a text names.

    >>> _parsed("Gamma=1.8"), _parsed("2,2"), _parsed("embedded profile")
    (('gamma', 1.8), ('gamma', 2.2), ('icc', 1.0))
    """
    plain = re.sub(r"[\s_\-]+", "", text.strip().lower())
    if plain in _NAMES:
        return _NAMES[plain], 1.0
    if plain == "gamma":
        return "gamma", GAMMA_DEFAULT
    match = _GAMMA.fullmatch(text.strip())
    if match is None:
        raise CalibrationError(
            f"tone_curve = '{text}' is not known; {ALLOWED} is allowed. Mend it in edition.toml."
        )
    gamma = float(match.group(1).replace(",", "."))
    if not GAMMA_MIN <= gamma <= GAMMA_MAX:
        raise CalibrationError(
            f"tone_curve = '{text}' has the exponent {gamma:g}; {GAMMA_MIN:g} to {GAMMA_MAX:g} is allowed. "
            "Mend it in edition.toml (2.2 is common)."
        )
    return "gamma", gamma
