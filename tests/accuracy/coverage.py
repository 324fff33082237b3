"""How often nominal 95 % intervals hold the truth, on ruled patches that err as the stated uncertainties say."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
from shapely import LineString, box, unary_union

from tests.accuracy.planted import (
    PATCHES,
    Patch,
    Pulled,
    depths_of,
    frame,
    light_of,
    measured_patches,
    middle_of,
    rulings,
)
from tests.accuracy.rows import Row

COVERAGE = (92.0, 98.0)
SHEETS = 24
U_SCALE, U_CURVE, U_DEPTH = 0.001, 0.01, 0.03
"""Spread of the errors that are planted: those that a stated curve and any scanner have."""

HALF_MM = 1.5
"""Half a region's side, see `planted.edition_of`. [mm]"""

NAMES = (
    "line_load_um", "line_width_um", "line_core_density", "line_area_fraction", "lines_per_mm", "plate_tone_density",
    "ground_between_lines_density", "tone_fraction",
)  # fmt: skip


def coverage_rows(folder: Path, seed: int = 5, sheets: int = SHEETS) -> list[Row]:
    """Return the rows on all measures together, and on each.

    Width is told with an allowance for edges that no normal describes, which these patches do not have, so it is held
    more often; sheets share an error of paper and curve, so a single measure is known to some 4 % from 24 of them.
    """
    rng = np.random.default_rng(seed)
    pulled = [
        Pulled(
            film=rng.uniform(0, 0.2), depth=rng.uniform(0.85, 0.95), optics_mm=rng.uniform(0.015, 0.020),
            turn_deg=rng.uniform(-1, 1), shift_px=tuple(rng.uniform(-0.5, 0.5, 2)), seed=int(rng.integers(2**31)),
            curve_error=rng.normal(0, U_CURVE), grain=0.003, depth_spread=U_DEPTH,
        )
        for _ in range(sheets)
    ]  # fmt: skip
    held: dict[str, list[bool]] = {name: [] for name in NAMES}
    covered = [_covered(patch, index) for index, patch in enumerate(PATCHES)]
    for sheet, rows in zip(pulled, measured_patches(folder, [Pulled(), *pulled]), strict=True):
        scale, tones = 1 + rng.normal(0, U_SCALE), _tones(sheet)
        depths = depths_of(sheet)
        for index, patch in enumerate(PATCHES):
            truth = {"plate_tone_density": sheet.film, "tone_fraction": tones[index]}
            if patch.per_mm:
                truth |= _of_lines(patch, sheet.film, depths[index], scale)
                truth["line_area_fraction"] = covered[index]
            for name, true in truth.items():
                value, u = (rows[patch.name].get(key, np.nan) for key in (name, f"u_{name}"))
                if np.isfinite(value) and np.isfinite(u):
                    held[name].append(abs(value - true) <= 1.96 * u)
    whole = 100 * float(np.mean([inside for name in NAMES for inside in held[name]]))
    count = sum(len(inside) for inside in held.values())
    return [
        Row("coverage of 95 % intervals, at least", whole, "%", COVERAGE[0], ">=", count),
        Row("coverage of 95 % intervals, at most", whole, "%", COVERAGE[1], "<=", count),
        *(Row(f"... {name}", 100 * float(np.mean(v)), "%", None, ">=", len(v)) for name, v in held.items()),
    ]


def _of_lines(patch: Patch, film: float, depth: float, scale: float) -> dict[str, float]:
    """Return what is true of a patch's lines, in millimetres that err by `scale`."""
    return {
        "line_load_um": patch.width_um * depth * scale,
        "line_width_um": patch.width_um * scale,
        "ground_between_lines_density": film,
        "line_core_density": film - np.log10(1 - depth),
        "lines_per_mm": patch.per_mm / scale,
    }


def _covered(patch: Patch, index: int) -> float:
    """Return the share of a patch's region that its bars cover, by geometry (shapely)."""
    x, y = middle_of(index)
    region = box(x - HALF_MM, y - HALF_MM, x + HALF_MM, y + HALF_MM)
    bars = [_bar(stroke) for strokes in rulings(patch, index) for stroke in strokes]
    return float(unary_union(bars).intersection(region).area / region.area)


def _bar(stroke: Iterable[float]):
    x0, y0, x1, y1, width = stroke
    return LineString([(x0, y0), (x1, y1)]).buffer(width / 2, cap_style="flat")


def _tones(sheet: Pulled) -> list[float]:
    """Return 1 - R/Rp of each region as the scan would show it on even paper by the right curve."""
    light = light_of(replace(sheet, curve_error=0.0, grain=0.0))
    linear, offset, shape = frame(sheet)
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    mm = (np.stack((columns, rows), axis=-1) - offset) @ np.linalg.inv(linear).T
    middles = [middle_of(index) for index in range(len(PATCHES))]
    return [float(1 - light[(np.abs(mm - middle) < HALF_MM).all(axis=-1)].mean()) for middle in middles]
