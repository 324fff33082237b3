"""A small picture of a whole scan, read in bands, so that looking through a drawer needs neither memory nor disk."""

import cv2
import numpy as np

from proofkit.arrays import FULL_SCALE, Picture
from proofkit.folder.edition import Edition, Pull
from proofkit.reflectance import tone_curve
from proofkit.scan import open_scan
from proofkit.scan.bands import read_bands
from proofkit.scan.fetching import fetched
from proofkit.scan.orientation import upright

LIGHTEST_SHARE = 98.0
"""Percentile of the picture that is shown as white: bare paper, as far as a glance tells. [%]"""


def thumbnail(edition: Edition, pull: Pull, longest_px: int) -> Picture:
    """Return a scan as a small picture, for telling sheets apart only.

    Parameters
    ----------
    edition, pull
        Whose scan it is.
    longest_px : int
        About its longer side. [px]

    Returns
    -------
    Picture
        (h, w) linear light, the lightest part = 1.

    Raises
    ------
    ScanError, CalibrationError
        If the scan cannot be read: one line.
    """
    rows = []
    with fetched(edition, pull) as path:
        file = open_scan(path, ppi=edition.capture.ppi)
        step = max(1, max(file.width, file.height) // longest_px)
        for band in read_bands(file, tone_curve(file, edition.capture), step):
            columns = max(1, band.shape[1] // step)
            rows.append(cv2.resize(band, (columns, 1), interpolation=cv2.INTER_AREA))
    picture = upright(np.vstack(rows), file.orientation).astype(np.float32) / np.float32(FULL_SCALE)
    white = float(np.percentile(picture, LIGHTEST_SHARE))
    return np.ascontiguousarray(picture / np.float32(max(white, 1e-3)))
