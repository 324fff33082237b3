"""What is true of a sheet, worked out from strokes and film, not from pixels."""

from __future__ import annotations

import numpy as np
from shapely import contains_xy

from tests.heldout.fields import Array
from tests.heldout.ink import EDGE_SHARE, EDGE_UM, Impression, Recipe, film
from tests.heldout.plate import Field, Plate

PRINTS = 0.3
"""A stretch of line prints when its core has at least this share of what the groove gives."""


def line_loads_um(width_um: Array, core: Array, ground: Array) -> Array:
    """Return the integral across the line of 1 - R/Rg: core, and two thinner edges. [µm]"""
    edge = np.minimum(EDGE_UM, 0.3 * width_um)
    thick = 1 - 10 ** -np.maximum(core - ground, 0)
    thin = 1 - 10 ** -np.maximum(EDGE_SHARE * core - ground, 0)
    return np.asarray((width_um - 2 * edge) * thick + 2 * edge * thin)


def measures(plate: Plate, recipe: Recipe, pull: Impression, field: Field) -> dict[str, float]:
    """Return the true measures of one region; what a fault makes undefined is left out."""
    x0, y0, x1, y1 = field.outline.bounds
    points = np.stack(
        [g.ravel() for g in np.meshgrid(np.arange(x0, x1, 0.4), np.arange(y0, y1, 0.4))], axis=1
    )
    points = points[contains_xy(field.outline, points[:, 0], points[:, 1])]
    result: dict[str, float] = {}
    shut = pull.clog is not None and pull.clog[0] == field.name
    if not shut and pull.set_off_density == 0 and pull.grain == 0:
        # As a densitometer integrates: light is averaged, not density, over all of the region.
        result["plate_tone_density"] = float(-np.log10(np.mean(10.0 ** -film(plate, recipe, pull, points))))
    if field.work != "lines":
        return result
    strokes = plate.strokes
    inside = contains_xy(field.outline, strokes.points_mm[:, 0], strokes.points_mm[:, 1])
    if not inside.any():
        return result
    ground = film(plate, recipe, pull, strokes.points_mm[inside])
    core, width = pull.core[inside], pull.width_um[inside]
    full = recipe.core_density * (0.72 + 0.28 * strokes.depth[inside])
    step = np.hypot(*np.diff(strokes.points_mm, axis=0).T)
    step[strokes.start[1:-1] - 1] = 0
    # Each point stands for half of the step on either side.
    share = (0.5 * (np.concatenate((step, [0])) + np.concatenate(([0], step))))[inside]
    loads = line_loads_um(width, core, ground)
    result["line_load_um"] = _middle(loads, share)
    result["line_width_um"] = _middle(width, share)
    result["line_length_mm_per_mm2"] = float(share[core > PRINTS * full].sum() / field.outline.area)
    return result


def _middle(values: Array, weights: Array) -> float:
    """Return the mean of the middle half of a distribution, parts of values at the quartiles counted in part."""
    order = np.argsort(values)
    upper = np.cumsum(weights[order]) / weights.sum()
    inside = np.diff(np.clip(np.concatenate(([0.0], upper)), 0.25, 0.75))
    return float(inside @ values[order] / inside.sum())
