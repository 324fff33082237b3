"""Block means of the plane, and the paper level at a pixel for use inside other kernels."""

import math

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats
from proofkit.scan.compiling import kernel


@kernel
def block_moments(
    plane: npt.NDArray[np.uint16], wanted: npt.NDArray[np.bool_], side: int
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Return mean and standard deviation of the pixels of square blocks.

    Parameters
    ----------
    plane : (h, w) uint16
        Linear luminance. [1/65535]
    wanted : (rows, columns) bool
        Blocks to compute; the others become NaN.
    side : int
        Side of a block; all wanted blocks lie wholly in the plane. [px]

    Returns
    -------
    tuple
        Two (rows, columns) float64 arrays. [1/65535]
    """
    rows, columns = wanted.shape
    mean = np.full((rows, columns), np.nan)
    deviation = np.full((rows, columns), np.nan)
    count = side * side
    totals, squares = np.empty(columns * side, np.uint32), np.empty(columns * side, np.uint64)
    for i in range(rows):
        first = 0
        while first < columns:
            if not wanted[i, first]:
                first += 1
                continue
            last = first
            while last < columns and wanted[i, last]:
                last += 1
            # neighbours together: sums down the columns are made of several at once
            total, square = totals[: (last - first) * side], squares[: (last - first) * side]
            total[:], square[:] = 0, 0
            for r in range(i * side, (i + 1) * side):
                seen = plane[r, first * side : last * side]
                for c in range(seen.size):
                    value = np.uint64(seen[c])
                    total[c] += seen[c]
                    square[c] += value * value
            for j in range(first, last):
                whole, whole_square = np.int64(0), np.int64(0)
                for c in range((j - first) * side, (j - first + 1) * side):
                    whole += np.int64(total[c])
                    whole_square += np.int64(square[c])
                mean[i, j] = whole / count
                rest = whole_square - whole * mean[i, j]
                deviation[i, j] = np.sqrt(max(rest, 0.0) / max(count - 1, 1))
            first = last
    return mean, deviation


@kernel
def polynomial_at(square: npt.NDArray[np.float64], u: float, v: float) -> float:
    """Return ``sum(square[i, j] * u**i * v**j)`` of a square (k, k) with nothing where i + j >= k."""
    size = square.shape[0]
    total = 0.0
    for i in range(size - 1, -1, -1):
        part = 0.0
        for j in range(size - 1 - i, -1, -1):
            part = part * v + square[i, j]
        total = total * u + part
    return total


@kernel
def level_at(
    coefficients: npt.NDArray[np.float64], x0_px: float, y0_px: float, scale_px: float, x: float, y: float
) -> float:
    """Return the level of bare paper at a pixel, the scanner's white = 1; the arguments are the fields of `Paper`."""
    return math.exp(polynomial_at(coefficients, (x - x0_px) / scale_px, (y - y0_px) / scale_px))


@kernel
def luminance_where(
    rgb: npt.NDArray[np.float32], wanted: npt.NDArray[np.bool_], apart: int
) -> npt.NDArray[np.float64]:
    """Return the luminance of wanted blocks of an overview (rows, columns, 3), of one in `apart` each way.

    Weights of IEC 61966-2-1.
    """
    rows, columns = wanted.shape
    found = np.empty(rows * columns)
    count = 0
    for i in range(0, rows, apart):
        for j in range(0, columns, apart):
            if wanted[i, j]:
                red, green, blue = float(rgb[i, j, 0]), float(rgb[i, j, 1]), float(rgb[i, j, 2])
                found[count] = red * 0.2126 + green * 0.7152 + blue * 0.0722
                count += 1
    return found[:count]


@kernel
def whitened(matrix: Floats, values: Floats) -> tuple[Floats, float]:
    """Return ``inv(L) @ values`` for the Cholesky root L of a (n, n) covariance, (n, m), and half its log determinant.

    Libraries for this share a matrix of this size between threads, and round otherwise with another number of them.
    """
    count, columns = values.shape
    rows = matrix.copy()  # row by row the transposed root
    white = values.copy()
    half_log = 0.0
    for k in range(count):
        length = np.sqrt(rows[k, k])
        half_log += np.log(length)
        rows[k, k:] /= length
        white[k] /= length
        # what is left of later rows and values: side by side, so that several are worked out at once
        for i in range(k + 1, count):
            share = rows[k, i]
            later, here = rows[i, i:], rows[k, i:]
            for j in range(later.size):
                later[j] -= share * here[j]
            for c in range(columns):
                white[i, c] -= share * white[k, c]
    return white, half_log
