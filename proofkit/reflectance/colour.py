"""Lightness, CIELAB and colour difference of reflected light."""

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats

SRGB_TO_XYZ: Floats = np.array(
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]], dtype=np.float64
)
"""Linear RGB with the primaries of IEC 61966-2-1 to XYZ, white D65, four figures as the standard prints them. [-]"""

LUMINANCE_WEIGHTS = (0.2126, 0.7152, 0.0722)
"""Middle row of `SRGB_TO_XYZ`. [-]"""

D50_TO_D65: Floats = np.array(
    [[0.955473, -0.023098, 0.063259], [-0.028370, 1.009996, 0.021041], [0.012314, -0.020508, 1.330366]],
    dtype=np.float64,
)
"""Bradford adaptation of XYZ from white D50 to white D65, to six places; tested against a reference library. [-]"""

_KNEE = (6 / 29) ** 3
"""Where the cube root of CIE 15 gives way to a straight line; L* is 8 there. [-]"""

_SLOPE = (29 / 6) ** 2 / 3


def _cube_root(ratio: Floats) -> Floats:
    """Return the compressed ratio f of CIE 15:2004, 8.2.1.1."""
    return np.where(ratio > _KNEE, np.cbrt(np.maximum(ratio, _KNEE)), ratio * _SLOPE + 4 / 29)


def lightness(luminance: npt.ArrayLike) -> Floats:
    """Return CIE lightness L* of luminance relative to white.

    Parameters
    ----------
    luminance : array_like
        Y, white = 1, any shape. [-]

    Returns
    -------
    Floats
        L*, white = 100; the same shape.

    References
    ----------
    .. [1] CIE 15:2004, 8.2.1.1; ISO/CIE 11664-4.

    Examples
    --------
    >>> lightness([1.0, 0.1, 0.001]).round(4).tolist()
    [100.0, 37.8424, 0.9033]
    """
    return np.asarray(116 * _cube_root(np.asarray(luminance, dtype=np.float64)) - 16)


def lab_from_linear_rgb(rgb: npt.ArrayLike, matrix: Floats = SRGB_TO_XYZ) -> Floats:
    """Return CIELAB (D65) of linear RGB.

    Parameters
    ----------
    rgb : array_like
        (..., 3) linear light, white = 1. [-]
    matrix : Floats, default SRGB_TO_XYZ
        (3, 3) linear RGB to XYZ with white D65.

    Returns
    -------
    Floats
        (..., 3) L*, a*, b*. White is what the matrix makes of (1, 1, 1), so that a neutral has exactly
        a* = b* = 0.

    References
    ----------
    .. [1] CIE 15:2004, 8.2.1.1; IEC 61966-2-1 for the matrix.

    Examples
    --------
    >>> lab_from_linear_rgb([0.5, 0.5, 0.5]).round(3).tolist()
    [76.069, 0.0, 0.0]
    """
    return lab_from_ratio(np.asarray(rgb, dtype=np.float64) @ matrix.T / matrix.sum(axis=1))


def lab_from_ratio(ratio: npt.ArrayLike) -> Floats:
    """Return CIELAB of XYZ against a white.

    Parameters
    ----------
    ratio : array_like
        (..., 3) X, Y and Z, each over that of the white. [-]

    References
    ----------
    .. [1] CIE 15:2004, 8.2.1.1.

    Examples
    --------
    >>> lab_from_ratio([1.0, 1.0, 1.0]).tolist()
    [100.0, 0.0, 0.0]
    """
    x, y, z = np.moveaxis(_cube_root(np.asarray(ratio, dtype=np.float64)), -1, 0)
    return np.stack((116 * y - 16, 500 * (x - y), 200 * (y - z)), axis=-1)


def ratio_from_lab(lab: npt.ArrayLike) -> Floats:
    """Return XYZ against the white of CIELAB; the inverse of `lab_from_ratio`.

    >>> ratio_from_lab(lab_from_ratio([0.5, 0.2, 0.001])).round(12).tolist()
    [0.5, 0.2, 0.001]
    """
    lightness, a, b = np.moveaxis(np.asarray(lab, dtype=np.float64), -1, 0)
    middle = (lightness + 16) / 116
    root = np.stack((middle + a / 500, middle, middle - b / 200), axis=-1)
    return np.where(root > 6 / 29, root**3, (root - 4 / 29) / _SLOPE)


def delta_e_2000(lab_one: npt.ArrayLike, lab_two: npt.ArrayLike) -> Floats:
    """Return the colour difference CIEDE2000 with all weights 1.

    Parameters
    ----------
    lab_one, lab_two : array_like
        (..., 3) L*, a*, b*.

    Returns
    -------
    Floats
        (...) difference; about 1 is just seen side by side.

    References
    ----------
    .. [1] Sharma, Wu, Dalal, "The CIEDE2000 color-difference formula", Color Res. Appl. 30(1), 2005, 21-30,
       equations 2 to 22.

    Examples
    --------
    >>> float(delta_e_2000([50, 2.6772, -79.7751], [50, 0, -82.7485]).round(4))
    2.0425
    """
    l1, a1, b1 = np.moveaxis(np.asarray(lab_one, dtype=np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(lab_two, dtype=np.float64), -1, 0)
    mean7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean7 / (mean7 + 25.0**7))
    c1, c2 = np.hypot(stretch * a1, b1), np.hypot(stretch * a2, b2)
    h1, h2 = _hue_deg(stretch * a1, b1), _hue_deg(stretch * a2, b2)
    step, mean_hue = _hue_step_and_mean(h1, h2, c1 * c2 == 0)
    hue_difference = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(step / 2))
    lightness_mean, chroma_mean = (l1 + l2) / 2, (c1 + c2) / 2
    hue_weight = (
        1
        - 0.17 * np.cos(np.radians(mean_hue - 30))
        + 0.24 * np.cos(np.radians(2 * mean_hue))
        + 0.32 * np.cos(np.radians(3 * mean_hue + 6))
        - 0.20 * np.cos(np.radians(4 * mean_hue - 63))
    )
    off50 = (lightness_mean - 50) ** 2
    light = (l2 - l1) / (1 + 0.015 * off50 / np.sqrt(20 + off50))
    chroma = (c2 - c1) / (1 + 0.045 * chroma_mean)
    hue = hue_difference / (1 + 0.015 * chroma_mean * hue_weight)
    turn = np.radians(60 * np.exp(-(((mean_hue - 275) / 25) ** 2)))
    rotation = -np.sin(turn) * 2 * np.sqrt(chroma_mean**7 / (chroma_mean**7 + 25.0**7))
    return np.asarray(np.sqrt(light**2 + chroma**2 + hue**2 + rotation * chroma * hue))


def _hue_deg(a: Floats, b: Floats) -> Floats:
    """Return the hue angle, 0 to 360, 0 for a neutral. [deg]"""
    return np.degrees(np.arctan2(b, a)) % 360


def _hue_step_and_mean(h1: Floats, h2: Floats, is_neutral: npt.NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return the signed step and the mean of two hues the short way round (equations 10 and 14 of Sharma). [deg]"""
    step = h2 - h1
    far = np.abs(step) > 180
    total = h1 + h2
    mean = np.where(far, np.where(total < 360, total + 360, total - 360), total) / 2
    step = np.where(far, step - 360 * np.sign(step), step)
    return np.where(is_neutral, 0.0, step), np.where(is_neutral, total, mean)
