"""Pictures for looking: linear reflectance as small files inside the page."""

import base64

import cv2
import numpy as np
import numpy.typing as npt

from proofkit.arrays import Picture
from proofkit.errors import ProofkitError

OUTSIDE_GREY = 215
"""Code shown where the scan has nothing. [0-255]"""

JPEG_QUALITY = 88


def screen_codes(picture: Picture) -> npt.NDArray[np.uint8]:
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
    linear = np.clip(np.nan_to_num(picture, nan=0.0), 0.0, 1.0)
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * np.power(linear, 1 / 2.4) - 0.055)
    return np.asarray(np.where(np.isfinite(picture), np.rint(255 * curved), OUTSIDE_GREY), dtype=np.uint8)


def shrunk(picture: Picture, longest_px: int) -> Picture:
    """Return a picture no longer than `longest_px` on a side, averaged in linear light."""
    h, w = picture.shape
    factor = longest_px / max(h, w)
    if factor >= 1:
        return picture
    size = (max(1, round(w * factor)), max(1, round(h * factor)))
    seen = np.isfinite(picture).astype(np.float32)
    share = cv2.resize(seen, size, interpolation=cv2.INTER_AREA)
    total = cv2.resize(np.nan_to_num(picture), size, interpolation=cv2.INTER_AREA)
    return np.asarray(np.where(share > 0.5, total / np.maximum(share, 0.5), np.nan), dtype=np.float32)


def data_uri(picture: Picture) -> str:
    """Return a picture as a JPEG inside a `data:` address.

    Raises
    ------
    ProofkitError
        If the picture is empty.
    """
    if picture.size == 0:
        raise ProofkitError(
            "A picture for the report has no pixels. Check the size of the plate in edition.toml."
        )
    _, code = cv2.imencode(".jpg", screen_codes(picture), [cv2.IMWRITE_JPEG_QUALITY, JPEG_QUALITY])
    return "data:image/jpeg;base64," + base64.b64encode(code.tobytes()).decode("ascii")
