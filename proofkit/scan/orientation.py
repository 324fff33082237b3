"""Turn what a file stores into the upright picture, by views only.

Orientation is the number of the TIFF 6.0 specification (tag 274) that Exif uses too: 1 upright, 2 mirrored left to
right, 3 turned by 180 degrees, 4 mirrored top to bottom, 5 transposed, 6 to be turned clockwise, 7 transposed about
the other diagonal, 8 to be turned anticlockwise.
"""

from typing import TypeVar

import numpy as np
import numpy.typing as npt

T = TypeVar("T", bound=np.generic)

ROWS_REVERSED = frozenset({3, 4, 6, 7})
"""Orientations in which a later stored row lies further up or left in the upright picture."""

COLUMNS_REVERSED = frozenset({2, 3, 7, 8})
"""Orientations in which a later stored column lies further up or left in the upright picture."""

TURNED = frozenset({5, 6, 7, 8})
"""Orientations in which stored rows are upright columns."""

_BACK = {6: 8, 8: 6}


def upright(stored: npt.NDArray[T], orientation: int) -> npt.NDArray[T]:
    """Return the upright view of an array in the order of the file, (rows, columns, ...).

    >>> upright(np.array([[1, 2], [3, 4]]), 6).tolist()
    [[3, 1], [4, 2]]
    """
    view = stored.swapaxes(0, 1) if orientation in TURNED else stored
    rows, columns = (
        (COLUMNS_REVERSED, ROWS_REVERSED) if orientation in TURNED else (ROWS_REVERSED, COLUMNS_REVERSED)
    )
    if orientation in rows:
        view = view[::-1]
    if orientation in columns:
        view = view[:, ::-1]
    return view


def as_stored(picture: npt.NDArray[T], orientation: int) -> npt.NDArray[T]:
    """Return the view of an upright array in the order of the file: what is written there lands upright."""
    return upright(picture, _BACK.get(orientation, orientation))


def stored_box(
    box_px: tuple[int, int, int, int], orientation: int, width: int, height: int
) -> tuple[int, int, int, int]:
    """Return where a box of the upright picture lies in the file.

    Parameters
    ----------
    box_px : tuple of int
        ``(x0, y0, x1, y1)`` of the upright picture, x1 and y1 not included. [px]
    orientation : int
    width, height : int
        Of the upright picture. [px]

    Returns
    -------
    tuple of int
        The same in the order of the file. [px]
    """
    x0, y0, x1, y1 = box_px
    if orientation in TURNED:
        x0, y0, x1, y1 = y0, x0, y1, x1
        width, height = height, width
    if orientation in COLUMNS_REVERSED:
        x0, x1 = width - x1, width - x0
    if orientation in ROWS_REVERSED:
        y0, y1 = height - y1, height - y0
    return x0, y0, x1, y1
