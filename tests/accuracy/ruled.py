"""The bars of the measures themselves, on ruled patches whose truth is exact: ``tests.accuracy --measures``."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from tests.accuracy.again import again_rows
from tests.accuracy.close import close_rows
from tests.accuracy.coverage import coverage_rows
from tests.accuracy.gratings import ANGLE_DEG, SPACING_PERCENT, grating_rows, off_deg
from tests.accuracy.planted import PATCHES, Patch, Pulled, measured_patches
from tests.accuracy.rows import Row, errors_row
from tests.lines.drawn import DEPTH

LOAD_PERCENT, WIDTH_UM, FILM_DENSITY, AREA, FILMED_LOAD_PERCENT = 2.0, 5.0, 0.003, 0.005, 1.0
RELAY_FILM_DENSITY, RELAY_LOAD_PERCENT = 0.001, 0.5

GRATINGS_PPI, GRATING_SEEDS = (400, 600), (31, 32, 33, 34)
CLOSE_SEEDS = (21, 22, 23, 24, 25)
AGAIN_SEEDS = (641, 642, 643, 644)
FILMS = (0.0, 0.05, 0.12, 0.25)


def ruled_rows(under: Path, ppis: Iterable[int] = (400, 600, 1200, 2400)) -> list[Row]:
    """Return the rows on resolution, film, laying down again, direction, coverage and prints."""
    rows: list[Row] = []
    for ppi in ppis:
        print(f"ruled patches at {ppi} ppi ...", flush=True)
        rows += _resolution_rows(under / f"ppi{ppi}", ppi)
    print("gratings ...", flush=True)
    for ppi in GRATINGS_PPI:
        rows += grating_rows(under / "gratings", ppi, GRATING_SEEDS)
    print("close hatching ...", flush=True)
    for ppi in GRATINGS_PPI:
        rows += close_rows(under / "close", ppi, CLOSE_SEEDS)
    print("films ...", flush=True)
    rows += _film_rows(under / "film")
    print("the same sheet again ...", flush=True)
    rows += _relay_rows(under / "relay")
    print("coverage ...", flush=True)
    rows += coverage_rows(under / "cover")
    print("printed and scanned again ...", flush=True)
    rows += again_rows(under / "again", AGAIN_SEEDS)
    return rows


def _value(row: dict[str, object], name: str) -> float:
    value = row.get(name, np.nan)
    return float(value) if isinstance(value, int | float) else float("nan")


def _resolution_rows(folder: Path, ppi: int) -> list[Row]:
    (rows,) = measured_patches(
        folder, [Pulled(ppi), Pulled(ppi, film=0.1, turn_deg=-0.4, shift_px=(0.3, 0.6), seed=2)]
    )
    alone = [p for p in PATCHES if 0 < p.per_mm <= 1.25]
    hatched = [p for p in PATCHES if p.per_mm > 1.25 and _period_px(p, ppi) >= 2.5]

    def loads(patches: list[Patch]) -> list[float]:
        return [100 * (_value(rows[p.name], "line_load_um") / (p.width_um * DEPTH) - 1) for p in patches]

    bar = ppi >= 600
    wide = [p for p in PATCHES if p.width_um >= 80]
    widths = [_value(rows[p.name], "line_width_um") - p.width_um for p in wide]
    found = [
        errors_row(f"{ppi} ppi: load, 60 to 300 µm alone", loads(alone), "%", LOAD_PERCENT if bar else None),
        errors_row(
            f"{ppi} ppi: load, hatching from 2.5 px a line",
            loads(hatched),
            "%",
            LOAD_PERCENT if bar else None,
        ),
        errors_row(f"{ppi} ppi: width of 80 µm and more", widths, "µm", WIDTH_UM if ppi >= 1200 else None),
    ]
    return found + _direction_rows(rows, ppi)


def _period_px(patch: Patch, ppi: int) -> float:
    return ppi / 25.4 / patch.per_mm


def _direction_rows(rows: dict[str, dict[str, object]], ppi: int) -> list[Row]:
    angles, spacings = [], []
    for patch in PATCHES:
        if not patch.per_mm or not 5 <= _period_px(patch, ppi) <= 25:
            continue
        row = rows[patch.name]
        found = [(_value(row, "line_angle_deg"), _value(row, "lines_per_mm"))]
        if patch.crossed:
            found.append((_value(row, "second_line_angle_deg"), _value(row, "second_lines_per_mm")))
        for angle, per_mm in found:
            angles.append(off_deg(angle, patch))
            spacings.append(100 * (patch.per_mm / per_mm - 1))
    if not angles:
        return []
    return [
        errors_row(f"{ppi} ppi: direction, 5 to 25 px a line", angles, "deg", ANGLE_DEG),
        errors_row(f"{ppi} ppi: spacing, 5 to 25 px a line", spacings, "%", SPACING_PERCENT),
    ]


def _film_rows(folder: Path) -> list[Row]:
    """Films of 0 to 0.25 D at 600 ppi; what they move in the lines is told against the first."""
    sheets = [Pulled(), *(Pulled(film=film, seed=3 + k, turn_deg=0.1 * k) for k, film in enumerate(FILMS))]
    measured = measured_patches(folder, sheets)
    hatched = [p for p in PATCHES if 4 <= p.per_mm <= 8]
    films, opens, areas, loads = [], [], [], []
    for film, rows in zip(FILMS, measured, strict=True):
        opens.append(_value(rows["open"], "plate_tone_density") - film)
        for patch in hatched:
            row, first = rows[patch.name], measured[0][patch.name]
            films += [
                _value(row, name) - film for name in ("plate_tone_density", "ground_between_lines_density")
            ]
            areas.append(_value(row, "line_area_fraction") - _value(first, "line_area_fraction"))
            loads.append(100 * (_value(row, "line_load_um") / _value(first, "line_load_um") - 1))
    return [
        errors_row("film 0 to 0.25 D on open ground", opens, "D", FILM_DENSITY),
        errors_row("film 0 to 0.25 D in hatching of 4 to 8 a mm", films, "D", FILM_DENSITY),
        errors_row("... moves the area of lines", areas, "", AREA),
        errors_row("... moves the load of lines", loads, "%", FILMED_LOAD_PERCENT),
    ]


def _relay_rows(folder: Path) -> list[Row]:
    """One sheet laid down ten times: the same ink and paper, other place, turn and scanner noise."""
    rng = np.random.default_rng(8)
    sheet = Pulled(film=0.08, grain=0.003, seed=4)
    lays = [
        replace(
            sheet, turn_deg=rng.uniform(-1, 1), shift_px=tuple(rng.uniform(-20, 20, 2)), noise_seed=100 + k
        )
        for k in range(10)
    ]
    measured = measured_patches(folder, [Pulled(grain=0.003), *lays])
    rows = []
    for name, relative, what, bar in (
        ("plate_tone_density", False, "D", RELAY_FILM_DENSITY), ("line_load_um", True, "%", RELAY_LOAD_PERCENT),
    ):  # fmt: skip
        spreads = []
        for patch in PATCHES:
            if patch.per_mm > 8:
                continue
            values = np.array([_value(lay[patch.name], name) for lay in measured])
            scale = 100 / np.mean(values) if relative else 1.0
            spreads.append(float(np.std(values, ddof=1) * scale))
        rows.append(errors_row(f"laid ten times: s.d. of {name}", spreads, what, bar))
    return rows
