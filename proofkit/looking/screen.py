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

QUALITIES = (90, 82, 72, 60, 45, 30)
"""JPEG qualities tried, best first, until a picture is small enough; grainy paper takes most bytes."""


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
    """Return codes as a JPEG file of at most about `most_bytes`, at the best quality that fits.

    Parameters
    ----------
    codes : ndarray of uint8
        (h, w) or (h, w, 3) with blue first.
    most_bytes : int
        The worst quality is returned when nothing fits. [byte]
    """
    content = b""
    for quality in QUALITIES:
        _, coded = cv2.imencode(".jpg", codes, [cv2.IMWRITE_JPEG_QUALITY, quality])
        content = coded.tobytes()
        if len(content) <= most_bytes:
            break
    return content
