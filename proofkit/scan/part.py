"""Read a small part of a large scan, where its file lets one enter in the middle."""

import numpy as np

from proofkit.arrays import Plane
from proofkit.scan.bands import luminance
from proofkit.scan.cutting import LEVELS_KEPT
from proofkit.scan.opening import read_header
from proofkit.scan.reading import read_codes, tables_of
from proofkit.scan.tiff import open_page
from proofkit.scan.types import Scan, ScanFile, ToneCurve

FEWEST_PARTS = 16
"""Strips or tiles from which a file of them is cheaper to enter in the middle than to read once as a whole."""


def opens_in_the_middle(file: ScanFile) -> bool:
    """Return whether a part of a scan costs little more than its share: of a TIFF in many strips or tiles.

    Raises
    ------
    ScanError
        If the file is damaged.
    """
    if read_header(file.path).kind != "TIFF":
        return False
    with open_page(file.path) as page:
        return int(page.compression) == 1 or len(page.dataoffsets) >= FEWEST_PARTS


def read_part(
    file: ScanFile, curve: ToneCurve, box_px: tuple[int, int, int, int]
) -> tuple[Scan, tuple[int, int]]:
    """Return a part of a scan, without its overview, and where it begins.

    Parameters
    ----------
    file : ScanFile
        From `open_scan`.
    curve : ToneCurve
        Tables for the channels and bits of this file.
    box_px : tuple of int
        ``(x0, y0, x1, y1)`` that is wanted, x1 and y1 not included; what of it lies beyond the scan is left out. [px]

    Returns
    -------
    Scan, (x0, y0)
        The part begins at whole blocks of the levels, so somewhat before the box. [px]

    Raises
    ------
    ScanError
        If nothing of the box lies in the scan, or the file changed, vanished or is damaged.
    """
    every = 1 << LEVELS_KEPT
    x0, y0 = (max(value, 0) // every * every for value in box_px[:2])
    x1, y1 = min(box_px[2], file.width), min(box_px[3], file.height)
    codes = read_codes(file, (x0, y0, x1, y1))
    plane: Plane = luminance(codes, tables_of(file, curve))
    return Scan(file, plane, np.zeros((0, 0, 3), dtype=np.float32), every, curve.name), (x0, y0)
