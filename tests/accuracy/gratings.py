"""Direction and spacing of gratings of any period and angle, against how they were drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from proofkit.measures.line_directions import line_geometry
from proofkit.measures.records import ink_centres
from proofkit.sheet import make_standard
from tests.accuracy.planted import PATCHES, Patch, Pulled, edition_of, write_pull
from tests.accuracy.rows import Row, errors_row

ANGLE_DEG, SPACING_PERCENT = 0.1, 0.3
PERIODS_PX = (5.0, 25.0)
BROADEST_UM = 300.0
"""Broader bars are no lines of a print. [µm]"""

LINE_SHARES = (0.3, 0.6)
CROSSED_SHARES = (0.3, 0.5)
"""Width over period. Crossed rulings of more cover over three quarters: at 400 ppi their white boxes are 2 px wide, and
the diagonals between the boxes are taken for lines (measured, see DEVELOPERS.md)."""


def drawn_gratings(ppi: float, seed: int) -> tuple[Patch, ...]:
    """Fifteen gratings of 5 to 25 px a period, every fifth one crossed."""
    rng = np.random.default_rng([seed, int(ppi)])
    patches = []
    for k in range(len(PATCHES)):
        per_mm = ppi / 25.4 / rng.uniform(*PERIODS_PX)
        crossed = k % 5 == 4
        width = min(rng.uniform(*(CROSSED_SHARES if crossed else LINE_SHARES)) * 1000 / per_mm, BROADEST_UM)
        patches.append(Patch(f"grating {k}", per_mm, width, rng.uniform(0, 180), crossed))
    return tuple(patches)


def grating_rows(under: Path, ppi: float, seeds: tuple[int, ...]) -> list[Row]:
    """Return the rows on direction, spacing, the direction's interval and how many second directions were told."""
    angles, spacings, inside, wrong = [], [], [], 0
    for seed in seeds:
        patches = drawn_gratings(ppi, seed)
        folder = under / f"{ppi:.0f} {seed}"
        turn = np.random.default_rng([seed, 7]).uniform(-1, 1)
        pull = write_pull(folder, "standard", Pulled(ppi, seed=seed, turn_deg=turn), patches)
        standard = make_standard(edition_of(folder, pull, patches=patches), pull)
        for patch, record in zip(patches, standard.records, strict=True):
            centres = ink_centres(standard.laid, standard.lines, record.points)
            row = line_geometry(record, standard.lines, centres)
            wrong += patch.crossed != ("second_line_angle_deg" in row)
            for prefix in ("", "second_")[: 1 + patch.crossed]:
                off = off_deg(row.get(f"{prefix}line_angle_deg", np.nan), patch)
                angles.append(off)
                inside.append(abs(off) <= 1.96 * row.get(f"u_{prefix}line_angle_deg", np.nan))
                spacings.append(100 * (patch.per_mm / row.get(f"{prefix}lines_per_mm", np.nan) - 1))
    what = f"{ppi:.0f} ppi, gratings at any angle:"
    covered = 100 * float(np.mean(inside))
    return [
        errors_row(f"{what} direction", angles, "deg", ANGLE_DEG),
        errors_row(f"{what} spacing", spacings, "%", SPACING_PERCENT),
        Row(f"{what} truths in the direction's 95 %", covered, "%", None, ">=", len(inside)),
        Row(f"{what} one or two directions told wrongly", wrong, "", 0.0, "<=", len(PATCHES) * len(seeds)),
    ]


def off_deg(angle: float, patch: Patch) -> float:
    """Return how far an angle lies from the nearest direction of a patch. [deg]"""
    return min(
        ((angle - patch.angle_deg - turn + 90) % 180 - 90 for turn in (0, 90)[: 1 + patch.crossed]), key=abs
    )
