"""Compiled maps of cells that lost their ink: pictures of the plate are compared without a float picture between."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import INK_ZERO, Floats, Index, Ink, Mask, Picture
from proofkit.scan.compiling import kernel


class Ground(NamedTuple):
    """The ground's ink of blocks, spread smoothly over the cells: linear between the middles of blocks."""

    blocks: Picture
    """(block rows, block columns) [codes]"""
    row: Index
    """(rows,) block before each row of cells..."""
    down: Picture
    """... and the way on to the next. [-]"""
    column: Index
    """(columns,) the same of the columns."""
    right: Picture


def spread_ground(blocks: Floats, shape: tuple[int, int]) -> Ground:
    """Return the ground of a picture of `shape` cells; beyond the middles of the outermost blocks it is theirs."""

    def between(cells: int, many: int) -> tuple[Index, Picture]:
        place = np.clip((np.arange(cells) + 0.5) * many / cells - 0.5, 0.0, many - 1.0)
        before = np.minimum(place.astype(np.intp), max(many - 2, 0))
        return before, (place - before).astype(np.float32)

    return Ground(
        blocks.astype(np.float32), *between(shape[0], blocks.shape[0]), *between(shape[1], blocks.shape[1])
    )


@kernel
def ground_at(ground: Ground, r: int, c: int) -> float:
    """Return the ground's ink at a cell. [codes]"""
    row, column = ground.row[r], ground.column[c]
    below, beside = min(row + 1, ground.blocks.shape[0] - 1), min(column + 1, ground.blocks.shape[1] - 1)
    v, u = ground.down[r], ground.right[c]
    upper = (1.0 - u) * ground.blocks[row, column] + u * ground.blocks[row, beside]
    lower = (1.0 - u) * ground.blocks[below, column] + u * ground.blocks[below, beside]
    return float((1.0 - v) * upper + v * lower)


@kernel
def ground_row(ground: Ground, r: int, mixed: Picture, out: Picture) -> None:
    """Write the ground's ink of a row of cells (columns,) as `ground_at`; `mixed` (block columns + 1,) is for work."""
    row = ground.row[r]
    below, v = min(row + 1, ground.blocks.shape[0] - 1), ground.down[r]
    last = mixed.size - 1
    for k in range(last):
        mixed[k] = ground.blocks[row, k] + v * (ground.blocks[below, k] - ground.blocks[row, k])
    mixed[last] = mixed[last - 1]
    for c in range(out.size):
        before, u = ground.column[c], ground.right[c]
        out[c] = mixed[before] + u * (mixed[before + 1] - mixed[before])


@kernel
def _room_of_rows(ground: Ground) -> tuple[Picture, Picture]:
    """Return room for what `ground_row` works on and writes."""
    blocks = np.empty(ground.blocks.shape[1] + 1, dtype=np.float32)
    return blocks, np.empty(ground.column.size, dtype=np.float32)


@kernel
def lines_and_open(standard: Ink, there: Ground, dark: float, flat: float) -> tuple[Mask, Mask]:
    """Return which cells of the standard are darker than their ground by `dark`, and which lie within `flat` of it."""
    line, is_open = np.empty(standard.shape, dtype=np.bool_), np.empty(standard.shape, dtype=np.bool_)
    mixed, ground = _room_of_rows(there)
    least, most = np.float32(dark), np.float32(flat)
    for r in range(standard.shape[0]):
        ground_row(there, r, mixed, ground)
        ink, dark_cells, open_cells = standard[r], line[r], is_open[r]
        for c in range(ink.size):
            was = ink[c] - ground[c]
            dark_cells[c] = was > least
            open_cells[c] = abs(was) < most
    return line, is_open


@kernel
def changes(sheet: Ink, standard: Ink, here: Ground, there: Ground, wanted: Mask, every: int) -> Floats:
    """Return by how much wanted cells have more ink above their ground than on the standard, row by row. [codes]

    Only every `every`-th row is looked at. A slit shows paper: ground darker than the standard's counts as the
    standard's, here and in `lost_cells`.
    """
    many = 0
    for r in range(0, sheet.shape[0], every):
        for c in range(sheet.shape[1]):
            many += wanted[r, c]
    out = np.empty(many)
    k = 0
    for r in range(0, sheet.shape[0], every):
        for c in range(sheet.shape[1]):
            if wanted[r, c]:
                was = ground_at(there, r, c)
                own = min(ground_at(here, r, c), was)
                out[k] = (float(sheet[r, c]) - own) - (float(standard[r, c]) - was)
                k += 1
    return out


@kernel
def lost_cells(
    sheet: Ink,
    standard: Ink,
    here: Ground,
    there: Ground,
    line: Mask,
    is_open: Mask,
    lost_share: float,
    limit: float,
) -> tuple[Mask, Mask]:
    """Return which cells lost their ink, and in which it is seen, whether or not they did.

    A cell of line has lost it when less than `lost_share` of its darkness is left; one of open ground when it is
    lighter by `limit` than it was, which shows only where the ground itself has as much.
    """
    bare, known = np.empty(sheet.shape, dtype=np.bool_), np.empty(sheet.shape, dtype=np.bool_)
    mixed, grounds = _room_of_rows(there)
    owns, share, most = np.empty_like(grounds), np.float32(lost_share), np.float32(limit)
    least = np.float32(INK_ZERO) + most
    for r in range(sheet.shape[0]):
        ground_row(there, r, mixed, grounds)
        ground_row(here, r, mixed, owns)
        one, other, lines, opens = standard[r], sheet[r], line[r], is_open[r]
        bare_cells, known_cells = bare[r], known[r]
        for c in range(one.size):
            # Without branches: lines lie close, and a forecast of them would often be wrong.
            own = min(owns[c], grounds[c])
            was, left = one[c] - grounds[c], other[c] - own
            gone = opens[c] & (left - was < -most)
            bare_cells[c] = gone | (lines[c] & (left < share * was))
            known_cells[c] = bare_cells[c] | lines[c] | (opens[c] & (own > least))
    return bare, known
