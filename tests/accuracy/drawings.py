"""Whether a drawing's reading is told right, and its departures are found in place and size."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from proofkit.compare import compare_with_drawing
from proofkit.laying.types import to_plate_mm
from tests.accuracy.rows import Row, errors_row
from tests.heldout.drawing import compose, depart, draw_in_pencil, engrave, lay_drawing
from tests.heldout.geometry import to_px
from tests.heldout.states import Printing, scan_pull

DARKNESS = (0.08, 0.15, 0.4)
"""Density of a usual stroke: weak, usual, firm. [D]"""

PPI = 300.0
SHIFT_MM = 1.0
NEAR_MM = 2.5
"""A departure is found when one is told this near to its middle. [mm]"""

OF_IT_MM = 1.0
"""A departure that is told this near to a moved passage is of it; hand and stretch move a drawn line by 0.3 mm."""

TOLERANCE_MM = 0.2

LEAST_DRAWN = 0.5
"""Share of a moved passage that has to be there in pencil: what was not drawn cannot be seen to depart."""


def drawing_rows(under: Path, seeds: Sequence[int]) -> tuple[list[Row], list[str]]:
    """Return the rows on drawings: one pair a seed, mirrored or direct, firm or weak, three departures of 1 mm."""
    right, found, true, told, false, not_drawn, errors, scales, notes = 0, 0, 0, 0, 0, 0, [], [], []
    for seed in seeds:
        rng = np.random.default_rng([seed, 83])
        composition = compose(seed)
        changed, departures = depart(composition, seed, 3, SHIFT_MM)
        mirrored, darkness = bool(rng.uniform() < 0.5), float(DARKNESS[seed % 3])
        sheet, size = lay_drawing(seed, composition, PPI, mirrored=mirrored)
        folder = under / f"drawing{seed}"
        folder.mkdir(parents=True, exist_ok=True)
        m = scan_pull(folder / "print.tif", engrave(changed, seed), Printing(), seed)
        drawn = draw_in_pencil(
            folder / "drawing.tif", composition, sheet, size, PPI, darkness=darkness, seed=seed
        )
        result = compare_with_drawing(folder / "drawing.tif", folder / "print.tif", out=folder / "out")
        is_right = (result.reading == "mirrored") == mirrored
        right += is_right
        print(f"drawing {seed}: {result.reading}, {'right' if is_right else 'WRONG'}", flush=True)
        scales += [result.compared.scale_x * sheet.scale[0] - 1, result.compared.scale_y * sheet.scale[1] - 1]
        told += len(result.departures)
        passages = [
            to_plate_mm(result.print_laying, to_px(m, composition.contours[one.contour][one.moved]))
            for one in departures
        ]
        places = result.departures[["x_mm", "y_mm"]].to_numpy(float)
        for x, y in places:
            if min(np.hypot(*(passage - (x, y)).T).min() for passage in passages) > OF_IT_MM:
                false += 1
                notes.append(
                    f"drawing {seed} ({darkness} D): told a departure at {x:.1f}, {y:.1f} that is none"
                )
        for one in departures:
            if drawn[one.contour][one.moved].mean() < LEAST_DRAWN:
                not_drawn += 1
                continue
            true += 1
            here = to_plate_mm(result.print_laying, to_px(m, one.middle_mm[None]))[0]
            near = np.hypot(*(places - here).T) if len(places) else np.empty(0)
            if not (near < NEAR_MM).any():
                notes.append(
                    f"drawing {seed} ({darkness} D): missed a departure at {here[0]:.1f}, {here[1]:.1f}"
                )
                continue
            found += 1
            errors.append(float(result.departures["departure_mm"].iloc[int(np.argmin(near))]) - SHIFT_MM)
    rows = [
        Row("drawings: reading told right", right / len(seeds), "", 1.0, ">=", len(seeds)),
        Row("drawings: departures of 1 mm found", found / max(true, 1), "", 0.95, ">=", true),
        errors_row("drawings: size of departures", errors, "mm", TOLERANCE_MM),
        Row("drawings: departures told that are none", false / max(told, 1), "", 0.05, "<=", told),
        Row("drawings: passages moved where nothing was drawn", not_drawn, "", None, "<=", true + not_drawn),
        errors_row("drawings: scales", scales, "", None),
    ]
    return rows, notes
