"""Loops over pixels, compiled."""

import numba as nb
import numpy as np


@nb.njit(cache=True, fastmath=True)
def draw_strokes(plane, x0, y0, ends, shape, grain, grain_at, ragged_px, contact):
    """Draw segments into `plane` (h, w) float32 of absorbance, the darker one winning.

    ends (n, 4): ax ay bx by; shape (n, 6): radius a, b, absorbance a, b, hollow, skirt; with skirt reach in
    `shape[:, 6]` (negative: left side only). Pixels at `plane[0, 0]` lie at (x0, y0) of the fine sheet grid.
    """
    rows, columns = plane.shape
    size = grain.shape[0] - 1
    for k in range(ends.shape[0]):
        ax, ay, bx, by = ends[k, 0] - x0, ends[k, 1] - y0, ends[k, 2] - x0, ends[k, 3] - y0
        ra, rb, da, db = shape[k, 0], shape[k, 1], shape[k, 2], shape[k, 3]
        hollow, skirt, reach = shape[k, 4], shape[k, 5], shape[k, 6]
        far = abs(reach) * 4.0 if skirt > 0 else 0.0
        pad = max(ra, rb) + 4 * ragged_px + 1.0 + far
        left = max(0, int(np.floor(min(ax, bx) - pad)))
        right = min(columns - 1, int(np.ceil(max(ax, bx) + pad)))
        top = max(0, int(np.floor(min(ay, by) - pad)))
        bottom = min(rows - 1, int(np.ceil(max(ay, by) + pad)))
        dx, dy = bx - ax, by - ay
        square = dx * dx + dy * dy + 1e-12
        for j in range(top, bottom + 1):
            for i in range(left, right + 1):
                px, py = i - ax, j - ay
                t = min(1.0, max(0.0, (px * dx + py * dy) / square))
                ex, ey = px - t * dx, py - t * dy
                distance = np.sqrt(ex * ex + ey * ey)
                if distance > pad:
                    continue
                g = grain[(j + y0 + grain_at[1]) & size, (i + x0 + grain_at[0]) & size]
                radius = ra + t * (rb - ra) + ragged_px * g
                ink = da + t * (db - da)
                inside = min(0.5, radius - distance) - max(-0.5, -radius - distance)
                cover = min(1.0, max(0.0, inside))
                value = cover * ink
                if hollow > 0 and distance < radius:
                    value *= 1 - hollow * (1 - (distance / radius) ** 2)
                if far > 0 and cover < 1 and (reach > 0 or px * dy - py * dx > 0):
                    beside = max(0.0, distance - radius)
                    if beside < far:
                        value += (1 - cover) * skirt * np.exp(-beside / abs(reach))
                if contact < 9:
                    value *= min(1.0, max(0.0, (contact - g) * 2.5 + 0.5))
                plane[j, i] = max(plane[j, i], value)


@nb.njit(cache=True)
def draw_marks(plane, x0, y0, discs, value):
    """Draw round marks (x, y, radius in px of the plane's grid), the larger value winning."""
    rows, columns = plane.shape
    for k in range(discs.shape[0]):
        x, y, radius = discs[k, 0] - x0, discs[k, 1] - y0, discs[k, 2]
        for j in range(max(0, int(y - radius - 1)), min(rows, int(y + radius + 3))):
            for i in range(max(0, int(x - radius - 1)), min(columns, int(x + radius + 3))):
                cover = min(1.0, max(0.0, radius - np.sqrt((i - x) ** 2 + (j - y) ** 2) + 0.5))
                plane[j, i] = max(plane[j, i], cover * value)


@nb.njit(cache=True, inline="always")
def _bilinear(table, x, y):
    rows, columns = table.shape
    x = min(max(x, 0.0), columns - 1.001)
    y = min(max(y, 0.0), rows - 1.001)
    i, j = int(x), int(y)
    u, v = x - i, y - j
    top = table[j, i] * (1 - u) + table[j, i + 1] * u
    low = table[j + 1, i] * (1 - u) + table[j + 1, i + 1] * u
    return top * (1 - v) + low * v


@nb.njit(cache=True, inline="always")
def _soft_step(distance, half_width):
    t = min(1.0, max(0.0, 0.5 + 0.5 * distance / half_width))
    return t * t * (3 - 2 * t)


@nb.njit(cache=True, fastmath=True)
def ground(  # noqa: C901 -- one loop over pixels
    out,
    y0,
    back,
    inverse,
    inverse_origin,
    inverse_step,
    crease,
    film,
    film_step,
    edge,
    contact,
    grain,
    grain_at,
    fine,
):
    """Fill `out` (h, w) float32 with the reflectance of the ground, bare paper = 1.

    back (2, 3) takes scan px to displaced plate mm; `inverse` (rows, columns, 2) and `crease` undo the rest.
    edge: plate width, height, corner radius [mm], bevel ink [absorbance], emboss shade, softness [mm],
    light direction x, y, how far outside the face the bevel's line lies [mm].
    """
    rows, columns = out.shape
    width, height, corner, bevel, emboss, soft, light_x, light_y, bevel_at = edge
    size = grain.shape[0] - 1
    for j in range(rows):
        for i in range(columns):
            y = j + y0
            ux = back[0, 0] * i + back[0, 1] * y + back[0, 2]
            uy = back[1, 0] * i + back[1, 1] * y + back[1, 2]
            if crease[5] > 0:
                rx, ry = ux - crease[0], uy - crease[1]
                along = rx * crease[2] + ry * crease[3]
                beyond = -rx * crease[3] + ry * crease[2]
                opening = crease[5] * min(1.0, max(0.0, 1.0 - along / crease[4]))
                if beyond > opening:
                    ux += crease[3] * opening
                    uy -= crease[2] * opening
                elif beyond > 0:
                    # the fold: no ink, and a little shade along its two lips
                    out[j, i] = 1.0 - 0.05 * (2 * abs(beyond / opening - 0.5)) ** 2
                    continue
            tx = (ux - inverse_origin) / inverse_step
            ty = (uy - inverse_origin) / inverse_step
            x = ux - _bilinear(inverse[:, :, 0], tx, ty)
            y = uy - _bilinear(inverse[:, :, 1], tx, ty)
            # signed distance inside a rectangle with round corners, and its outward normal
            qx, qy = abs(x - width / 2) - width / 2 + corner, abs(y - height / 2) - height / 2 + corner
            outside = np.sqrt(max(qx, 0.0) ** 2 + max(qy, 0.0) ** 2)
            inner = corner - outside - min(max(qx, qy), 0.0)
            value = 1.0
            if inner > -6.0:
                on = _soft_step(inner, soft)
                if on > 0:
                    layer = _bilinear(film, x / film_step, y / film_step)
                    take = 1.0
                    if contact < 9:
                        g = grain[
                            (int((j + y0) * fine) + grain_at[1]) & size, (int(i * fine) + grain_at[0]) & size
                        ]
                        take = min(1.0, max(0.0, (contact - g) * 2.5 + 0.5))
                    value = 1.0 - on * take * (1.0 - 10.0 ** (-layer))
                if bevel > 0:
                    ring = np.exp(-(((inner + bevel_at) / 0.06) ** 2))
                    g = grain[int((x + 9) * 7 + (y + 9) * 23) & size, int((y + 9) * 7 - (x + 9) * 17) & size]
                    value *= 1.0 - bevel * ring * min(1.0, max(0.0, 0.55 + 0.45 * g))
                if inner < 0.15:
                    nx = (max(qx, 0.0) if qx > 0 else (1.0 if qx > qy else 0.0)) * (
                        1.0 if x > width / 2 else -1.0
                    )
                    ny = (max(qy, 0.0) if qy > 0 else (1.0 if qy >= qx else 0.0)) * (
                        1.0 if y > height / 2 else -1.0
                    )
                    norm = np.sqrt(nx * nx + ny * ny) + 1e-9
                    facing = (nx * light_x + ny * light_y) / norm
                    slope = np.exp(-max(0.0, -inner) / 0.35) * _soft_step(0.15 - inner, 0.15)
                    value *= 1.0 + emboss * facing * slope
            out[j, i] = value


@nb.njit(cache=True, fastmath=True)
def to_linear16(out, ground_plane, light, paper_grain, noise, level, back, lamp):
    """Combine ground, lines' light, paper grain, lamp and noise into uint16 linear luminance."""
    rows, columns = out.shape
    for j in range(rows):
        for i in range(columns):
            u, v = i * lamp[4] - 1.0, (j + back) * lamp[5] - 1.0
            even = 1.0 + lamp[0] * u + lamp[1] * v + lamp[2] * u * v + lamp[3] * (u * u - 0.3)
            value = level * ground_plane[j, i] * light[j, i] * even * (1.0 + paper_grain[j, i])
            value += noise[j, i] * np.sqrt(4.0e-6 + 3.6e-5 * max(value, 0.0))
            out[j, i] = np.uint16(min(65535.0, max(0.0, value * 65535.0 + 0.5)))


@nb.njit(cache=True)
def clear_slit(plane, x0, y0, back, crease):
    """Take all ink out of the slit of a crease; `back` takes pixels of the plane's grid to displaced plate mm."""
    rows, columns = plane.shape
    for j in range(rows):
        for i in range(columns):
            ux = back[0, 0] * (i + x0) + back[0, 1] * (j + y0) + back[0, 2]
            uy = back[1, 0] * (i + x0) + back[1, 1] * (j + y0) + back[1, 2]
            rx, ry = ux - crease[0], uy - crease[1]
            beyond = -rx * crease[3] + ry * crease[2]
            opening = crease[5] * min(1.0, max(0.0, 1.0 - (rx * crease[2] + ry * crease[3]) / crease[4]))
            if 0.0 < beyond < opening:
                plane[j, i] = 0.0
