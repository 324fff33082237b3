"""Fine pictures of sheets drawn straight from their definition: hatching, film, grain, and marks of known place."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO
from proofkit.measures.fine_picture import FINE_PITCH_MM

SHAPE = (200, 240)
"""Rows and columns: 25 x 30 mm."""


def grid():
    y, x = np.indices(SHAPE) * FINE_PITCH_MM
    return x, y


def sheet(seed, *, film=0.06, ink=1.0, shift_mm=0.0, noise=0.008):
    """Return a sheet as ink: bare ground left, hatching of 0.7 mm right, each as a hand varies it."""
    x, y = grid()
    lines = 0.5 + 0.5 * np.cos(2 * np.pi * (0.8 * (x - shift_mm) + 0.6 * y) / 0.7)
    hatching = np.where(x > 14, 0.7 * ink * lines, 0.0)
    grain = np.random.default_rng(seed).normal(0, noise, SHAPE)
    return film + hatching * (1 - film) + grain


def disc(sheet_ink, x_mm, y_mm, diameter_mm, ink):
    """Return the sheet with a round mark that has taken the place of what was there."""
    x, y = grid()
    share = np.clip((diameter_mm / 2 - np.hypot(x - x_mm, y - y_mm)) / FINE_PITCH_MM + 0.5, 0, 1)
    return sheet_ink + share * (ink - sheet_ink)


def bar(sheet_ink, x_mm, y_mm, length_mm, breadth_mm, ink):
    """Return the sheet with an upright bar of another ink."""
    x, y = grid()
    inside = (np.abs(x - x_mm) <= breadth_mm / 2) & (np.abs(y - y_mm) <= length_mm / 2)
    return np.where(inside, ink, sheet_ink)


def codes(sheet_ink):
    return np.clip(np.rint(INK_ZERO + INK_SCALE * sheet_ink), 0, 254).astype(np.uint8)


def pictures(sheets):
    """Return pulls and the function that gives strips of them."""
    coded = {pull: codes(one) if one.dtype != np.uint8 else one for pull, one in sheets.items()}
    return list(coded), lambda pull, top, bottom: coded[pull][top:bottom]


def edition(count=9, seed=3):
    """Return good sheets by pull, with a usual hand's variation: ink 3 %, film 0.010 D, 15 µm of laying."""
    rng = np.random.default_rng(seed)
    return {
        str(k): sheet(
            [seed, k],
            film=0.10 + 0.022 * rng.normal(),
            ink=1 + 0.03 * rng.normal(),
            shift_mm=0.015 * rng.normal(),
        )
        for k in range(1, count + 1)
    }
