"""Pictures for a screen: reflectance and signed differences as codes, and small JPEG files of them."""

from functools import lru_cache

import cv2
import numpy as np
import numpy.typing as npt

from proofkit.arrays import FULL_SCALE, Picture

OUTSIDE_GREY = 215
"""Code shown where the scan has nothing. [0-255]"""

Codes = npt.NDArray[np.uint8]

_STEPS = 255
"""Colours of a scale; an odd number, so that no difference has a colour of its own."""

QUALITIES = ((90, 1.0), (82, 0.75), (72, 0.6), (60, 0.48), (45, 0.38), (30, 0.28))
"""JPEG qualities, and about how much of the bytes of the first one a picture of grainy paper takes at each."""

_SMALLER = 0.9
"""Part of the size reckoned that a picture is reduced to when no quality is small enough; grain is hard to foresee."""


@lru_cache(maxsize=1)
def _curve() -> Codes:
    """Return the code of each linear value of 16 bits by the sRGB curve, 65535 = 255."""
    linear = np.arange(1 << 16) / FULL_SCALE
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.power(linear, 1 / 2.4) - 0.055)
    return np.asarray(np.rint(255 * curved), dtype=np.uint8)


def screen_codes(picture: Picture) -> Codes:
    """Return linear reflectance as codes for a screen, bare paper = 255.

    Parameters
    ----------
    picture : Picture
        (h, w) linear reflectance against bare paper; NaN outside the scan.

    Returns
    -------
    ndarray of uint8
        (h, w) by the sRGB curve.

    References
    ----------
    .. [1] IEC 61966-2-1, the sRGB transfer function.

    Examples
    --------
    >>> screen_codes(np.array([[0.0, 0.2159, 1.0]], dtype=np.float32)).tolist()
    [[0, 128, 255]]
    """
    known = np.isfinite(picture)
    linear = np.clip(np.where(known, picture, 0.0), 0.0, 1.0) * np.float32(FULL_SCALE)
    codes = _curve()[(linear + np.float32(0.5)).astype(np.uint16)]
    codes[~known] = OUTSIDE_GREY
    return np.asarray(codes)


def difference_codes(
    difference: Picture, shown_density: float, colours: tuple[tuple[float, str], ...]
) -> npt.NDArray[np.uint8]:
    """Return a signed difference as colours, blue first, as the picture library writes them.

    Parameters
    ----------
    difference : Picture
        (h, w). [D]
    shown_density : float
        Difference at which the scale ends on both sides. [D]
    colours : tuple
        (place from 0 to 1, ``#rrggbb``): the scale from lighter over no difference to darker.

    Returns
    -------
    ndarray of uint8
        (h, w, 3).
    """
    known = np.isfinite(difference)
    share = np.where(known, difference, 0.0) * np.float32(0.5 / shown_density) + np.float32(0.5)
    places = [place for place, _ in colours]
    parts = [[int(colour[k : k + 2], 16) for _, colour in colours] for k in (5, 3, 1)]
    scale = np.stack([np.interp(np.linspace(0, 1, _STEPS), places, part) for part in parts], axis=1)
    codes = np.rint(scale).astype(np.uint8)[
        (np.clip(share, 0, 1) * (_STEPS - 1) + np.float32(0.5)).astype(np.uint8)
    ]
    codes[~known] = OUTSIDE_GREY
    return np.asarray(codes)


def small_jpeg(codes: Codes, most_bytes: int) -> bytes:
    """Return codes as a JPEG file of at most `most_bytes`: at the best quality that fits, else reduced in size.

    Parameters
    ----------
    codes : ndarray of uint8
        (h, w) or (h, w, 3) with blue first.
    most_bytes : int
        [byte]
    """
    content = _jpeg(codes, QUALITIES[0][0])
    first = len(content)
    for quality, share in QUALITIES[1:]:
        if len(content) <= most_bytes:
            return content
        if (
            share * first <= most_bytes or quality == QUALITIES[-1][0]
        ):  # qualities that cannot do are not tried
            content = _jpeg(codes, quality)
    while len(content) > most_bytes and min(codes.shape[:2]) > 1:
        by = _SMALLER * float(np.sqrt(most_bytes / len(content)))
        size = max(1, round(codes.shape[1] * by)), max(1, round(codes.shape[0] * by))
        codes = np.asarray(cv2.resize(codes, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        content = _jpeg(codes, QUALITIES[-1][0])
    return content


def _jpeg(codes: Codes, quality: int) -> bytes:
    return bytes(cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes())
