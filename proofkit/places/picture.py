"""The picture of the edition: the median of all sheets, cell by cell, and how each sheet differs from it as a whole."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Ink, Picture
from proofkit.measures.fine_picture import NO_SHEET
from proofkit.places.kernels import median_codes
from proofkit.places.levelling import (
    NODE_CELLS,
    OUTLIER_INK,
    TERMS,
    both_shown,
    by_node,
    difference,
    over_cells,
    overall_of,
    products_of,
    solve,
    terms_of,
    windowed,
)
from proofkit.places.types import FinePictures

MOST_CELLS = 4_000_000
"""Cells of all sheets together that are worked on at a time: bounds memory to some 100 MB, whatever the plate."""


FITS = 2
"""Times that a sheet's course is fitted: in the second, marks count little."""


@dataclass(frozen=True, slots=True, eq=False)
class EditionPicture:
    """Median picture of an edition and the course of each sheet about it."""

    pulls: tuple[str, ...]
    middle: Ink
    """(rows, columns) median of the fine pictures; `NO_SHEET` where fewer than three show the plate."""
    courses: dict[str, Picture]
    """Pull -> (4, node rows, node columns) film, ink and position of the sheet about the median."""


def strips(rows: int, columns: int, sheets: int) -> Iterator[tuple[int, int]]:
    """Give first row and row after the last of strips that fit into memory for all sheets at once."""
    tall = max(MOST_CELLS // max(columns * sheets, 1) // NODE_CELLS, 4) * NODE_CELLS
    for top in range(0, rows, tall):
        yield top, min(top + tall, rows)


def edition_picture(
    pulls: Sequence[str], pictures: FinePictures, shape: tuple[int, int], fewest: int
) -> EditionPicture:
    """Return the picture of an edition.

    Parameters
    ----------
    pulls : sequence of str
        Sheets that are compared with each other.
    pictures : FinePictures
    shape : tuple of int
        Rows and columns of the fine pictures.
    fewest : int
        Sheets that must show a cell for it to be known.
    """
    middle = np.empty(shape, dtype=np.uint8)
    for top, bottom in strips(*shape, len(pulls)):
        stack = np.stack([pictures(pull, top, bottom) for pull in pulls])
        seen = np.empty(stack.shape[1:], dtype=np.uint8)
        median_codes(stack, middle[top:bottom], seen)
        middle[top:bottom][seen < fewest] = NO_SHEET
    raw = _products(middle)
    products = np.empty_like(raw)
    for a in range(TERMS):
        for b in range(TERMS):
            products[..., a, b] = windowed(raw[..., a, b].astype(np.float32))
    courses = {pull: _course(pull, pictures, middle, raw, products) for pull in pulls}
    return EditionPicture(tuple(pulls), middle, courses)


def strip_terms(middle: Ink, top: int, bottom: int) -> Picture:
    """Return the terms of rows `top` to `bottom`, (4, rows, columns); slopes see the rows beyond."""
    above, below = max(top - 1, 0), min(bottom + 1, len(middle))
    return terms_of(middle[above:below])[:, top - above : bottom - above]


def predicted(course: Picture, terms: Picture, top: int) -> Picture:
    """Return what a sheet's course adds to the median picture in a strip, (rows, columns)."""
    shape = (terms.shape[1], terms.shape[2])
    total = np.zeros(shape, dtype=np.float32)
    for term, nodes in zip(terms, course, strict=True):
        total += term * over_cells(nodes, top, shape)
    return total


def _products(middle: Ink) -> Floats:
    parts = [
        products_of(_shown(strip_terms(middle, top, bottom), middle[top:bottom]))
        for top, bottom in strips(len(middle), middle.shape[1], 1)
    ]
    return np.concatenate(parts)


def _shown(terms: Picture, middle: Ink) -> Picture:
    return np.asarray(terms * (middle != NO_SHEET))


def _course(pull: str, pictures: FinePictures, middle: Ink, raw: Floats, products: Floats) -> Picture:
    """Return the four numbers of a sheet, node by node, fitted twice: the second time marks count little."""
    course: Picture | None = None
    for _ in range(FITS):
        right = np.concatenate(
            [
                _right(pictures(pull, top, bottom), middle, top, course)
                for top, bottom in strips(len(middle), middle.shape[1], 1)
            ]
        )
        smooth = np.stack([windowed(right[..., k].astype(np.float32)) for k in range(TERMS)], axis=-1)
        course = solve(products, smooth.astype(np.float64), overall_of(raw, right))
    return np.zeros((TERMS, 1, 1), dtype=np.float32) if course is None else course


def _right(codes: Ink, middle: Ink, top: int, course: Picture | None) -> Floats:
    """Return means by node of a sheet's difference from the median times each term, (rows, columns, 4)."""
    bottom = top + len(codes)
    terms = strip_terms(middle, top, bottom)
    change = difference(codes, middle[top:bottom])
    if course is not None:
        expected = predicted(course, terms, top)
        change = expected + np.clip(change - expected, -OUTLIER_INK, OUTLIER_INK)
    change *= both_shown(codes, middle[top:bottom])
    return np.stack([by_node(change * term) for term in terms], axis=-1).astype(np.float64)
