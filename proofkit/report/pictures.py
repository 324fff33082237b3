"""Pictures for looking: linear reflectance as small files inside the page."""

import base64

import cv2
import numpy as np

from proofkit.arrays import Picture
from proofkit.errors import ProofkitError
from proofkit.looking.screen import screen_codes

JPEG_QUALITY = 88


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
