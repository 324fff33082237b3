"""Codes of a piece of a scan to linear luminance and to sums for the overview, in one pass without temporaries."""

import numpy as np
import numpy.typing as npt

from proofkit.scan.compiling import kernel

SHIFT = 14
"""Binary places of the fixed-point tables below one unit of a `Plane`: 65535 * 2**14 just fits into 31 bits."""

_HALF = 1 << (SHIFT - 1)
_TOP = np.int64(65535)
_BLACK = np.int64(0)


@kernel
def add_rgb(
    codes: npt.NDArray[np.uint8] | npt.NDArray[np.uint16],
    tables: npt.NDArray[np.int32],
    plane: npt.NDArray[np.uint16],
    sums: npt.NDArray[np.int64],
    place: tuple[int, int, int, int, int, int],
) -> None:
    """Write the luminance of a piece into the plane and add its channels to the overview sums.

    Parameters
    ----------
    codes : (rows, columns, samples) uint8 or uint16
        Codes of a piece; samples after the third are not looked at.
    tables : (3, codes) int32
        Share of each channel in luminance. [2**-SHIFT / 65535]
    plane : (h, w) uint16
        Whole plane in the order of the file; changed.
    sums : (block rows, block columns, 3) int64
        Sums of table values over blocks, from block row `place[5]`; changed.
    place : tuple of int
        Row and column of the piece in the plane, side of a block, rows and columns that the first block
        lacks, first block row of `sums`. [px]
    """
    row0, column0, step, lack_y, lack_x, block_row0 = place
    rows, columns, _ = codes.shape
    of_red, of_green, of_blue = tables[0], tables[1], tables[2]
    whitest = np.int64(of_red.max()) + of_green.max() + of_blue.max() + _HALF
    fits = whitest >> SHIFT <= _TOP and min(of_red.min(), of_green.min(), of_blue.min()) >= 0
    first_block = (column0 + lack_x) // step
    first_end = np.uint64(min(columns, (first_block + 1) * step - lack_x - column0))
    for r in range(rows):
        y = row0 + r
        block_row = (y + lack_y) // step - block_row0
        line, out = codes[r], plane[y, column0 : column0 + columns]
        # Columns without a sign: no index that may count from the end.
        start, end, block_column = np.uint64(0), first_end, first_block
        while start < end:
            red = np.int64(0)
            green = np.int64(0)
            blue = np.int64(0)
            for k in range(start, end):
                one = np.int64(of_red[line[k, 0]])
                two = np.int64(of_green[line[k, 1]])
                three = np.int64(of_blue[line[k, 2]])
                red += one
                green += two
                blue += three
                value = (one + two + three + _HALF) >> SHIFT
                if not fits:
                    value = min(max(value, _BLACK), _TOP)
                out[k] = np.uint16(value)
            sums[block_row, block_column, 0] += red
            sums[block_row, block_column, 1] += green
            sums[block_row, block_column, 2] += blue
            start, end, block_column = end, min(end + np.uint64(step), np.uint64(columns)), block_column + 1


@kernel
def add_grey(
    codes: npt.NDArray[np.uint8] | npt.NDArray[np.uint16],
    tables: npt.NDArray[np.int32],
    plane: npt.NDArray[np.uint16],
    sums: npt.NDArray[np.int64],
    place: tuple[int, int, int, int, int, int],
) -> None:
    """Do as `add_rgb` for one channel; `tables` is (1, codes), `sums` (block rows, block columns, 1)."""
    row0, column0, step, lack_y, lack_x, block_row0 = place
    rows, columns, _ = codes.shape
    of_grey = tables[0]
    for r in range(rows):
        y = row0 + r
        block_row = (y + lack_y) // step - block_row0
        line, out = codes[r], plane[y, column0 : column0 + columns]
        c = 0
        while c < columns:
            block_column = (column0 + c + lack_x) // step
            end = min(columns, (block_column + 1) * step - lack_x - column0)
            grey = np.int64(0)
            for k in range(np.uint64(c), np.uint64(end)):
                one = of_grey[line[k, 0]]
                grey += one
                out[k] = min((one + _HALF) >> SHIFT, _TOP)
            sums[block_row, block_column, 0] += grey
            c = end


@kernel
def luminance_of_rgb(
    codes: npt.NDArray[np.uint8] | npt.NDArray[np.uint16],
    tables: npt.NDArray[np.int32],
    plane: npt.NDArray[np.uint16],
) -> None:
    """Write the luminance of a piece into `plane` (rows, columns) as `add_rgb` does; without sums in half its time."""
    rows, columns, _ = codes.shape
    red, green, blue = tables[0], tables[1], tables[2]
    for r in range(rows):
        for k in range(columns):
            value = (
                np.int64(red[codes[r, k, 0]]) + green[codes[r, k, 1]] + blue[codes[r, k, 2]] + _HALF
            ) >> SHIFT
            plane[r, k] = min(max(value, 0), _TOP)


@kernel
def luminance_of_grey(
    codes: npt.NDArray[np.uint8] | npt.NDArray[np.uint16],
    tables: npt.NDArray[np.int32],
    plane: npt.NDArray[np.uint16],
) -> None:
    """Do as `luminance_of_rgb` for one channel; `tables` is (1, codes)."""
    rows, columns, _ = codes.shape
    grey = tables[0]
    for r in range(rows):
        for k in range(columns):
            plane[r, k] = min((grey[codes[r, k, 0]] + _HALF) >> SHIFT, _TOP)


@kernel
def take_filters_off(
    filtered: npt.NDArray[np.uint8],
    above: npt.NDArray[np.uint8],
    plain: npt.NDArray[np.uint8],
    pixel_bytes: int,
) -> bool:
    """Undo the row filters of PNG; return False when a filter is unknown.

    Parameters
    ----------
    filtered : (rows, 1 + row bytes) uint8
        Each row begins with the number of its filter.
    above : (row bytes,) uint8
        Plain row before the first one; zeros at the top of the picture.
    plain : (rows, row bytes) uint8
        Written.
    pixel_bytes : int
        Bytes of one pixel: the distance to the neighbour on the left. [byte]

    Returns
    -------
    bool

    References
    ----------
    .. [1] PNG Specification, third edition (2025), section 9: 0 none, 1 left, 2 above, 3 mean of both,
       4 the one of left, above and above left that is nearest to left + above - above left.
    """
    rows, row_bytes = plain.shape
    for r in range(rows):
        kind = filtered[r, 0]
        if kind > 4:
            return False
        up = above if r == 0 else plain[r - 1]
        for k in range(row_bytes):
            value = np.int64(filtered[r, k + 1])
            left = np.int64(plain[r, k - pixel_bytes]) if k >= pixel_bytes else np.int64(0)
            if kind == 1:
                value += left
            elif kind == 2:
                value += up[k]
            elif kind == 3:
                value += (left + np.int64(up[k])) >> 1
            elif kind == 4:
                corner = np.int64(up[k - pixel_bytes]) if k >= pixel_bytes else np.int64(0)
                to_left = abs(np.int64(up[k]) - corner)
                to_up = abs(left - corner)
                to_corner = abs(left + np.int64(up[k]) - 2 * corner)
                if to_left <= to_up and to_left <= to_corner:
                    value += left
                elif to_up <= to_corner:
                    value += up[k]
                else:
                    value += corner
            plain[r, k] = value & 255
    return True
