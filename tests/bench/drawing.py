"""Draw a large sheet fast: twelve fields of hatching on an A3 sheet, laid down a little askew and stretched."""

import numba
import numpy as np

SHEET_MM = (297.0, 420.0)
PLATE_MM = (237.0, 340.0)
MARGIN_MM = (30.0, 40.0)
"""Of the plate mark from the sheet's top left."""
ACROSS, DOWN = 3, 4
"""Fields of hatching."""
EDGE_MM = 6.0
"""Unworked ground around and between fields, half on each side of a border between two."""


def field_boxes():
    """Return name and (x0, y0, x1, y1) of each field in plate mm."""
    wide, tall = PLATE_MM[0] / ACROSS, PLATE_MM[1] / DOWN
    return {
        f"field {row * ACROSS + column + 1}": (
            column * wide + EDGE_MM, row * tall + EDGE_MM, (column + 1) * wide - EDGE_MM, (row + 1) * tall - EDGE_MM
        )
        for row in range(DOWN)
        for column in range(ACROSS)
    }  # fmt: skip


@numba.njit(cache=True, nogil=True)
def draw_rows(first, rows, ppi, pull, codes):
    """Draw rows of a sheet as sRGB codes.

    Parameters
    ----------
    first, rows : int
        Rows of the sheet.
    ppi : float
    pull : int
        0 is the standard, which lies straight; the others are turned, shifted and stretched, each in its own way.
    codes : (rows, columns, 3) uint8 or uint16
        Written.
    """
    columns = codes.shape[1]
    top = 255.0 if codes.itemsize == 1 else 65535.0
    px_mm = 25.4 / ppi
    np.random.seed(1000003 * pull + first)
    turn = 0.0 if pull == 0 else 0.003 * np.sin(2.1 * pull)
    scale = 1.0 if pull == 0 else 1.0 + 0.002 * np.cos(1.3 * pull)
    dx = 0.0 if pull == 0 else 1.3 * np.sin(0.7 * pull)
    dy = 0.0 if pull == 0 else 0.9 * np.cos(1.9 * pull)
    bend = 0.0 if pull == 0 else 0.12
    film = 0.06 + (0.0 if pull == 0 else 0.004 * np.sin(5.0 * pull))
    width_mm, height_mm = 237.0, 340.0
    for r in range(rows):
        y_sheet = (first + r) * px_mm
        for c in range(columns):
            x_sheet = c * px_mm
            xs = (x_sheet - 148.5) * np.cos(turn) - (y_sheet - 210.0) * np.sin(turn)
            ys = (x_sheet - 148.5) * np.sin(turn) + (y_sheet - 210.0) * np.cos(turn)
            x = xs / scale + dx + bend * np.sin(ys / 61.0) + 118.5
            y = ys / scale + dy + bend * np.sin(xs / 47.0) + 170.0
            light = 0.83 * (1.0 + 0.004 * np.sin(x_sheet / 3.1) * np.cos(y_sheet / 2.7))
            inside = min(min(x, width_mm - x), min(y, height_mm - y))
            if inside > -1.0:
                light *= 1.0 - 0.25 * np.exp(-((inside / 0.18) ** 2))  # ink and shade of the bevel
            if inside > 0.0:
                density = film + 0.01 * np.sin(x / 30.0) + 0.01 * np.sin(y / 45.0)
                column, row = int(x / 79.0), int(y / 85.0)
                u, v = x - 79.0 * column, y - 85.0 * row
                if min(min(u, 79.0 - u), min(v, 85.0 - v)) > 6.0:
                    number = column * 3 + row * 7
                    angle = 0.3 + 0.55 * (number % 5)
                    across = x * np.cos(angle) + y * np.sin(angle)
                    along = y * np.cos(angle) - x * np.sin(angle)
                    across += 3.0 * np.sin(along * 0.06)
                    pitch = 0.55 + 0.12 * (number % 4)
                    line = 0.08 + 0.2 * (0.5 + 0.5 * np.sin(x * 0.045 + y * 0.031) * np.cos(y * 0.05))
                    off = abs(across / pitch - np.floor(across / pitch) - 0.5) * pitch
                    # The edge of a line is a cumulative bell of 20 µm, drawn as its logistic likeness.
                    density += 1.25 / (1.0 + np.exp((off - 0.5 * line) / 0.0118))
                light *= 10.0**-density
            light *= 1.0 + 0.006 * np.random.normal()
            code = 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1.0 / 2.4) - 0.055
            code = min(max(code, 0.0), 1.0) * top
            codes[r, c, 0] = int(code + 0.5)
            codes[r, c, 1] = int(0.99 * code + 0.5)
            codes[r, c, 2] = int(0.96 * code + 0.5)
