"""Hatching about as close as a scan can show: what is told of it at all, and how far that is off."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from proofkit.sheet import make_standard, measure_sheet
from tests.accuracy.planted import PATCHES, Patch, Pulled, edition_of, write_pull
from tests.accuracy.rows import Row, errors_row
from tests.lines.drawn import DEPTH

PERIODS_PX = (2.2, 3.3)
CROSSED_PX = (2.6, 6.1)
WIDTH_SHARES = (0.3, 0.55)
FILM = 0.06


def drawn_patches(ppi: float, seed: int, *, crossed: bool) -> tuple[Patch, ...]:
    """Fourteen rulings from the closest to the widest at any angle, and one of broad lines that tells the blur."""
    rng = np.random.default_rng([seed, 77])
    low, high = CROSSED_PX if crossed else PERIODS_PX
    steps = low + (high - low) * (np.arange(len(PATCHES) - 1) + rng.uniform(0, 1, len(PATCHES) - 1)) / len(
        PATCHES
    )
    found = []
    for k, period in enumerate(steps):
        per_mm = ppi / 25.4 / period
        width = rng.uniform(*WIDTH_SHARES) * 1000 / per_mm
        found.append(Patch(f"close {k}", per_mm, width, rng.uniform(0, 180), crossed))
    return (*found, Patch("alone", 1.1, 200, 30))


def close_rows(under: Path, ppi: float, seeds: tuple[int, ...]) -> list[Row]:
    """Return the rows on close hatching and on close crossed hatching; they have no bar, as not all can be told."""
    rows: list[Row] = []
    for crossed in (False, True):
        loads, films, patches = [], [], 0
        for seed in seeds:
            for patch, row in _measured(under / f"{ppi:.0f} {seed} {crossed}", ppi, seed, crossed=crossed):
                patches += 1
                loads.append(100 * (float(row.get("line_load_um", np.nan)) / (patch.width_um * DEPTH) - 1))
                films.append(float(row.get("plate_tone_density", np.nan)) - FILM)
        kind = "crossed, 2.6 to 6.1" if crossed else "2.2 to 3.3"
        what = f"{ppi:.0f} ppi, hatching {kind} px a line"
        told = 100 * float(np.isfinite(loads).mean())
        rows += [
            Row(f"{what}: load is told", told, "%", None, ">=", patches),
            errors_row(f"{what}: load where told", loads, "%", None),
            errors_row(f"{what}: film where told", films, "D", None),
        ]
    return rows


def _measured(folder: Path, ppi: float, seed: int, *, crossed: bool) -> list[tuple[Patch, dict[str, float]]]:
    patches = drawn_patches(ppi, seed, crossed=crossed)
    turn = float(np.random.default_rng([seed, 7]).uniform(-1, 1))
    sheets = (
        Pulled(ppi, seed=seed),
        Pulled(ppi, film=FILM, turn_deg=turn, shift_px=(0.3, 0.6), seed=seed + 50),
    )
    pulls = [write_pull(folder, f"s{k}", sheet, patches) for k, sheet in enumerate(sheets)]
    edition = edition_of(folder, *pulls, patches=patches)
    rows = measure_sheet(edition, pulls[1], make_standard(edition, pulls[0])).rows
    by_region = {str(row["region"]): row for row in rows}
    return [(patch, by_region[patch.name]) for patch in patches[:-1]]  # type: ignore[misc]
