"""The picture of the edition: the median of all sheets, cell by cell, and how each sheet differs from it as a whole."""

from collections.abc import Iterator, Mapping, Sequence
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
from proofkit.threads import each_in_order

MOST_CELLS = 4_000_000
"""Cells of all sheets together that are worked on at a time: bounds memory to some 100 MB, whatever the plate."""

SOME_SHEETS = 4
"""Sheets for whose strips there is room while courses are told: as many as mostly are in work at once."""

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

    def fill(strip: tuple[int, int]) -> None:
        part = middle[slice(*strip)]
        stack = np.stack([pictures(pull, *strip) for pull in pulls])
        seen = np.empty(part.shape, dtype=np.uint8)
        median_codes(stack, part, seen)
        part[seen < fewest] = NO_SHEET

    each_in_order(fill, list(strips(*shape, len(pulls))))
    raw = _products(middle)
    products = np.empty_like(raw)
    for a in range(TERMS):
        for b in range(TERMS):
            products[..., a, b] = windowed(raw[..., a, b].astype(np.float32))
    return EditionPicture(tuple(pulls), middle, _courses(pulls, pictures, middle, (raw, products)))


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


def _courses(
    pulls: Sequence[str], pictures: FinePictures, middle: Ink, products: tuple[Floats, Floats]
) -> dict[str, Picture]:
    """Return the four numbers of each sheet, node by node, fitted twice: the second time marks count little.

    `products` are those of the terms, as they are and averaged over the window.
    """
    raw, averaged = products
    none = np.zeros((TERMS, 1, 1), dtype=np.float32)
    courses = dict.fromkeys(pulls, none)

    def solved(right: Floats) -> Picture:
        smooth = np.stack([windowed(right[..., k].astype(np.float32)) for k in range(TERMS)], axis=-1)
        return solve(averaged, smooth.astype(np.float64), overall_of(raw, right))

    for fit in range(FITS):
        parts = [
            _rights(pictures, middle, strip, courses if fit else dict.fromkeys(pulls))
            for strip in strips(len(middle), middle.shape[1], SOME_SHEETS)
        ]
        rights = [np.concatenate(of_sheet) for of_sheet in zip(*parts, strict=True)]
        courses = dict(zip(pulls, each_in_order(solved, rights), strict=True))
    return courses


def _rights(
    pictures: FinePictures, middle: Ink, strip: tuple[int, int], courses: Mapping[str, Picture | None]
) -> list[Floats]:
    """Return means by node of each sheet's difference from the median times each term, (rows, columns, 4).

    Where there is a course already, what leaves it counts as no more than `OUTLIER_INK`.
    """
    part, terms = middle[slice(*strip)], strip_terms(middle, *strip)

    def of_sheet(pull: str) -> Floats:
        codes, course = pictures(pull, *strip), courses[pull]
        change = difference(codes, part)
        if course is not None:
            expected = predicted(course, terms, strip[0])
            change = expected + np.clip(change - expected, -OUTLIER_INK, OUTLIER_INK)
        change *= both_shown(codes, part)
        return np.stack([by_node(change * term) for term in terms], axis=-1).astype(np.float64)

    return each_in_order(of_sheet, list(courses))
