"""How often nominal 95 % intervals hold the truth, on ruled patches that err as the stated uncertainties say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr
from scipy.stats import norm, qmc
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
STANDARDS, SHEETS = 4, 12
"""Standards, and sheets measured on each: spacing and area hang on the standard, film and load on the sheet."""

U_SCALE, U_CURVE, U_DEPTH, U_BLUR = 0.001, 0.01, 0.03, 0.005
"""Spread of the errors that are planted: those that a stated curve and any scanner have, and how far the depth of lines
and the blur of their edges differ from patch to patch."""

HALF_MM = 1.5
"""Half a region's side, see `planted.edition_of`. [mm]"""

NAMES = (
    "line_load_um", "line_width_um", "line_core_density", "line_area_fraction", "lines_per_mm", "plate_tone_density",
    "ground_between_lines_density", "tone_fraction", "lightness_mean",
)  # fmt: skip

IN_MM = ("line_load_um", "line_width_um", "lines_per_mm")
"""Measures that err with the millimetre, by as much."""


class Told(NamedTuple):
    """One value that was told, and what is true."""

    name: str
    value: float
    u: float
    true: float


def coverage_rows(folder: Path, seed: int = 5, standards: int = STANDARDS, sheets: int = SHEETS) -> list[Row]:
    """Return the rows on all measures together, and on each.

    All sheets of a scanner share its scale, and all patches of a sheet its curve: drawn at random, 24 of them hold
    the interval of a measure 88 to 100 times in 100 by chance alone. So errors of curve, film, depth and optics are
    drawn evenly over their distributions (Latin hypercube; McKay, Beckman and Conover 1979), and the error of scale,
    which is in no picture, is integrated. What is left to chance is paper and noise, and how depths and edges differ
    from patch to patch.
    """
    held: dict[str, list[float]] = {name: [] for name in NAMES}
    for told in told_of(folder, seed, standards, sheets):
        held[told.name].append(chance_of_holding(told))
    whole = 100 * float(np.mean([chance for chances in held.values() for chance in chances]))
    count = sum(len(chances) for chances in held.values())
    wide = (COVERAGE[1] - COVERAGE[0]) / 2
    rows = [
        Row("coverage of 95 % intervals, at least", whole, "%", COVERAGE[0], ">=", count),
        Row("coverage of 95 % intervals, at most", whole, "%", COVERAGE[1], "<=", count),
    ]
    for name, chances in held.items():
        one = 100 * float(np.mean(chances))
        rows.append(
            Row(f"... {name}, off 95 % by", abs(one - 95), "%", wide, "<=", len(chances), f"{one:.1f} %")
        )
    return rows


def chance_of_holding(told: Told) -> float:
    """Return how likely the 95 % interval of a value holds the truth, over all errors of scale."""
    error, reach = told.value - told.true, 1.96 * told.u
    spread = U_SCALE * abs(told.true) if told.name in IN_MM else 0.0
    if not spread:
        return float(abs(error) <= reach)
    return float(ndtr((reach - error) / spread) - ndtr((-reach - error) / spread))


def told_of(folder: Path, seed: int, standards: int, sheets: int) -> Iterator[Told]:
    """Draw sheets, measure them, and give all that is told of them."""
    covered = [_covered(patch, index) for index, patch in enumerate(PATCHES)]
    for number in range(standards):
        standard, *pulled = _drawn(np.random.default_rng([seed, number]), sheets)
        measured = measured_patches(folder / str(number), [standard, *pulled])
        for sheet, rows in zip(pulled, measured, strict=True):
            tones, depths = _tones(sheet), depths_of(sheet)
            for index, patch in enumerate(PATCHES):
                truth = {"plate_tone_density": sheet.film, **tones[index]}
                if patch.per_mm:
                    truth |= _of_lines(patch, sheet.film, depths[index])
                    truth["line_area_fraction"] = covered[index]
                for name, true in truth.items():
                    value, u = (rows[patch.name].get(key, np.nan) for key in (name, f"u_{name}"))
                    if np.isfinite(value) and np.isfinite(u):
                        yield Told(name, value, u, true)


def _drawn(rng: np.random.Generator, sheets: int) -> list[Pulled]:
    """Return a standard and the sheets that are measured on it."""
    even = qmc.LatinHypercube(4, rng=rng).random(sheets)
    common = [
        {
            "turn_deg": rng.uniform(-1, 1), "shift_px": tuple(rng.uniform(-0.5, 0.5, 2)),
            "seed": int(rng.integers(2**31)), "grain": 0.003, "depth_spread": U_DEPTH,
            "blur_spread": U_BLUR,
        }
        for _ in range(sheets + 1)
    ]  # fmt: skip
    pulled = [
        Pulled(
            film=0.2 * film, depth=0.85 + 0.1 * depth, optics_mm=0.015 + 0.005 * optics,
            curve_error=float(norm.ppf(curve)) * U_CURVE, **own,
        )
        for (film, depth, optics, curve), own in zip(even, common[1:], strict=True)
    ]  # fmt: skip
    return [Pulled(**common[0]), *pulled]


def _of_lines(patch: Patch, film: float, depth: float) -> dict[str, float]:
    """Return what is true of a patch's lines."""
    return {
        "line_load_um": patch.width_um * depth,
        "line_width_um": patch.width_um,
        "ground_between_lines_density": film,
        "line_core_density": film - np.log10(1 - depth),
        "lines_per_mm": patch.per_mm,
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


def _tones(sheet: Pulled) -> list[dict[str, float]]:
    """Return mean tone and lightness of each region as the scan would show them on even paper by the right curve."""
    light = light_of(replace(sheet, curve_error=0.0, grain=0.0))
    linear, offset, shape = frame(sheet)
    rows, columns = np.mgrid[: shape[0], : shape[1]]
    mm = (np.stack((columns, rows), axis=-1) - offset) @ np.linalg.inv(linear).T
    insides = [(np.abs(mm - middle_of(index)) < HALF_MM).all(axis=-1) for index in range(len(PATCHES))]
    return [
        {
            "tone_fraction": 1 - float(light[inside].mean()),
            "lightness_mean": 116 * float(np.cbrt(light[inside]).mean()) - 16,
        }
        for inside in insides
    ]
