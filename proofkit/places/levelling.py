"""Take out of a sheet what a hand does to it as a whole: more ink, more film, lines a little to the side.

Within some millimetres a good sheet is ``a + b m + c dm/dx + d dm/dy`` of the edition's median picture m: a is its
film, b its ink, (c, d) what laying left of its position. What remains is what happened at single places.
"""

import cv2
import numpy as np

from proofkit.arrays import INK_SCALE, Floats, Ink, Mask, Picture
from proofkit.measures.fine_picture import FINE_PITCH_MM, NO_SHEET, ink_of

NODE_CELLS = 8
"""Cells from one node of the coefficients to the next: 1 mm."""

WINDOW_MM = 2.5
"""Standard deviation of the window in which the four numbers are fitted: wide against a mark, narrow against the
course of a wiping hand. [mm]"""

OUTLIER_INK = 0.06
"""A cell further off than this counts as just so far in the second fit, so that marks do not draw the fit. [-]"""

PRIOR_SD = (0.03, 0.15, 0.02 / FINE_PITCH_MM, 0.02 / FINE_PITCH_MM)
"""How large the four numbers are at the most, about the sheet's own mean for the first two: film 0.03 of ink, line
load 15 %, 0.02 mm of position. Keeps the fit quiet where there are no lines. [-, -, cells, cells]"""

MOST_PRIORS = 2.0
"""Ink and position at a node stay within this many of their prior's: without a bound a stroke that one sheet lacks
would pass for a want of ink. [-]"""

LEAST_SHOWN = 0.02
"""Share of a window that has to be shown for its film to count in full. [-]"""

CELL_NOISE = 0.02
"""Scatter of a cell that the prior is weighed against. [-]"""

TERMS = 4


def terms_of(middle: Ink) -> Picture:
    """Return 1, ink, and its slopes along x and y for the cells of the median picture, (4, rows, columns)."""
    ink = np.nan_to_num(ink_of(middle)).astype(np.float32)
    slope_x = cv2.Sobel(ink, cv2.CV_32F, 1, 0, ksize=3, scale=0.125, borderType=cv2.BORDER_REPLICATE)
    slope_y = cv2.Sobel(ink, cv2.CV_32F, 0, 1, ksize=3, scale=0.125, borderType=cv2.BORDER_REPLICATE)
    return np.stack((np.ones_like(ink), ink, slope_x, slope_y))


def by_node(values: Picture) -> Picture:
    """Return means over blocks of `NODE_CELLS` cells; the last block of a side may be smaller."""
    rows, columns = values.shape
    tall, wide = -(-rows // NODE_CELLS), -(-columns // NODE_CELLS)
    padded = cv2.copyMakeBorder(
        values, 0, tall * NODE_CELLS - rows, 0, wide * NODE_CELLS - columns, cv2.BORDER_REPLICATE
    )
    return np.asarray(cv2.resize(padded, (wide, tall), interpolation=cv2.INTER_AREA), dtype=np.float32)


def windowed(nodes: Picture) -> Picture:
    """Return node values averaged over the window."""
    sigma = WINDOW_MM / (NODE_CELLS * FINE_PITCH_MM)
    return np.asarray(cv2.GaussianBlur(nodes, (0, 0), sigma, borderType=cv2.BORDER_REFLECT))


def products_of(terms: Picture) -> Floats:
    """Return means of products of terms by node, not yet averaged over the window, (rows, columns, 4, 4)."""
    first = by_node(terms[0])
    result = np.empty((*first.shape, TERMS, TERMS))
    for a in range(TERMS):
        for b in range(a + 1):
            result[..., a, b] = result[..., b, a] = by_node(terms[a] * terms[b])
    return result


def solve(products: Floats, right: Floats, overall: Floats) -> Picture:
    """Return the four numbers at each node.

    Parameters
    ----------
    products : Floats
        (rows, columns, 4, 4) window means of products of terms.
    right : Floats
        (rows, columns, 4) window means of the sheet's difference from the median picture times the terms.
    overall : Floats
        (4,) the same numbers for the sheet as a whole, to which they are drawn where there is little to see.
    """
    window_cells = 4 * np.pi * (WINDOW_MM / FINE_PITCH_MM) ** 2
    weight = np.diag((CELL_NOISE / np.array(PRIOR_SD)) ** 2 / window_cells)
    matrix = products + weight
    answer = np.linalg.solve(matrix, (right + weight @ overall)[..., None])[..., 0]
    reach = MOST_PRIORS * np.array((np.inf, *PRIOR_SD[1:]))
    answer = np.clip(answer, overall - reach, overall + reach)
    # The film is fitted anew beside the bounded others, as on even ground film and ink stand for each other.
    others = (products[..., 0, 1:] * answer[..., 1:]).sum(axis=-1)
    answer[..., 0] = (right[..., 0] - others) / np.maximum(products[..., 0, 0], LEAST_SHOWN)
    return np.asarray(np.moveaxis(answer, -1, 0), dtype=np.float32)


def overall_of(products: Floats, right: Floats) -> Floats:
    """Return film and ink of a sheet as a whole; its position is left to the nodes."""
    a = products[..., :2, :2].mean(axis=(0, 1)) + 1e-6 * np.eye(2)
    film_and_ink = np.linalg.solve(a, right[..., :2].mean(axis=(0, 1)))
    return np.concatenate((film_and_ink, np.zeros(2)))


def over_cells(nodes: Picture, first_row: int, shape: tuple[int, int]) -> Picture:
    """Return node values spread linearly over a strip of cells, (rows, columns).

    A node stands in the middle of its block of cells.
    """
    rows, columns = shape
    y = ((np.arange(first_row, first_row + rows, dtype=np.float32)) + 0.5) / NODE_CELLS - 0.5
    x = (np.arange(columns, dtype=np.float32) + 0.5) / NODE_CELLS - 0.5
    low = min(max(int(y[0]) - 1, 0), len(nodes) - 1)
    high = min(int(y[-1]) + 3, len(nodes))
    map_x, map_y = np.meshgrid(x, y - np.float32(low))
    part = np.ascontiguousarray(nodes[low:high])
    return np.asarray(cv2.remap(part, map_x, map_y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE))


def difference(codes: Ink, middle: Ink) -> Picture:
    """Return ink of a sheet above that of the median picture; 0 where either shows nothing."""
    known = both_shown(codes, middle)
    change = codes.astype(np.float32) - middle.astype(np.float32)
    return np.asarray(np.where(known, change / np.float32(INK_SCALE), np.float32(0)))


def both_shown(codes: Ink, middle: Ink) -> Mask:
    """Return where sheet and median picture show something."""
    return np.asarray((codes != NO_SHEET) & (middle != NO_SHEET))
