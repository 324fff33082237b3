"""Strokes whose blurred picture is known: a bar blurred by a Gaussian is a product of error functions."""

from collections.abc import Callable

import numpy as np
from scipy.special import ndtr

from proofkit.arrays import FULL_SCALE, INK_SCALE, INK_ZERO

PAPER_LEVEL = 0.85
DEPTH = 0.93

Map = Callable[[np.ndarray], np.ndarray]


def stroke(x, y, angle_deg, length, width):
    """One stroke about its middle; the angle is counter-clockwise as seen. [mm, deg]"""
    dx, dy = np.cos(np.radians(angle_deg)) * length / 2, -np.sin(np.radians(angle_deg)) * length / 2
    return [x - dx, y - dy, x + dx, y + dy, width]


def hatching(angle_deg, spacing, width, *, middle=(6.0, 6.0), length=8.0, lines=30):
    """Parallel strokes, `spacing` apart from centre to centre, as (lines, 5) x0, y0, x1, y1, width. [mm]"""
    turn = np.radians(angle_deg)
    across = np.array([np.sin(turn), np.cos(turn)])
    places = (np.arange(lines) - (lines - 1) / 2) * spacing
    return np.array([stroke(*(middle + p * across), angle_deg, length, width) for p in places])


def bar(s, width, sigma):
    """A bar of unit depth about 0, blurred by a Gaussian."""
    return ndtr((width / 2 - s) / sigma) - ndtr((-width / 2 - s) / sigma)


def clear_light(strokes, shape, sigma_mm, *, place: Map, back: Map, depth=DEPTH):
    """Share of light that the strokes leave; `place` maps plate mm to pixels x, y, and `back` the other way."""
    light = np.ones(shape)
    per_mm = np.linalg.norm(place(np.array([[1.0, 0.0]])) - place(np.zeros((1, 2))))
    for x0, y0, x1, y1, width in strokes:
        start, end = np.array([x0, y0]), np.array([x1, y1])
        length = np.linalg.norm(end - start)
        along = (end - start) / length
        px = place(np.array([start, end]))
        reach = (width / 2 + 5 * sigma_mm) * per_mm * 1.5 + 2
        left, top = np.maximum(np.floor(px.min(axis=0) - reach), 0).astype(int)
        right, bottom = np.minimum(np.ceil(px.max(axis=0) + reach), shape[::-1]).astype(int) + 1
        right, bottom = min(right, shape[1]), min(bottom, shape[0])
        if bottom <= top or right <= left:
            continue
        rows, columns = np.mgrid[top:bottom, left:right]
        xy = back(np.column_stack((columns.ravel(), rows.ravel())).astype(float)) - start
        t, d = xy @ along, xy @ np.array([-along[1], along[0]])
        ink = bar(d, width, sigma_mm) * bar(t - length / 2, length, sigma_mm)
        light[top : top + rows.shape[0], left : left + rows.shape[1]] *= 1 - depth * ink.reshape(rows.shape)
    return light


def scan_light(strokes, shape, optics_mm, *, place: Map, back: Map, depth=DEPTH):
    """As `clear_light`, seen by square pixels: each is the mean of 3 x 3 places."""
    fine = clear_light(
        strokes,
        (3 * shape[0], 3 * shape[1]),
        optics_mm,
        place=lambda mm: 3 * place(mm) + 1,
        back=lambda px: back((px - 1) / 3),
        depth=depth,
    )
    return fine.reshape(shape[0], 3, shape[1], 3).mean(axis=(1, 3))


def ink_picture(strokes, size_mm, pitch_mm, sigma_mm, depth=DEPTH):
    """The picture of ink in which `find_lines` looks: pixel (0, 0) at plate point (0, 0)."""
    shape = (round(size_mm[1] / pitch_mm) + 1, round(size_mm[0] / pitch_mm) + 1)
    light = clear_light(
        strokes, shape, sigma_mm, place=lambda mm: mm / pitch_mm, back=lambda px: px * pitch_mm, depth=depth
    )
    return np.rint(INK_ZERO + INK_SCALE * (1 - light)).clip(0, 255).astype(np.uint8)


def plane_of(light, *, noise=0.006, seed=1):
    """A scan's plane of a picture of light on paper, with the scanner's noise. [-]"""
    values = light * PAPER_LEVEL
    if noise:
        values = values + np.random.default_rng(seed).normal(0, noise, light.shape)
    return np.rint(values.clip(0, 1) * FULL_SCALE).astype(np.uint16)
