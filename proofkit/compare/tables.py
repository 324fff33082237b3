"""Compared states -> tables."""

import numpy as np
import pandas as pd

from proofkit.arrays import Points
from proofkit.columns import CHANGED_AREAS, CHANGES, COMPARED, make_table
from proofkit.states.comparison import ComparedStates
from proofkit.units import UM_PER_MM


def compared_table(compared: ComparedStates) -> pd.DataFrame:
    """Return one row per pull."""
    return make_table([pull.row for pull in compared.pulls], COMPARED)


def changes_table(compared: ComparedStates) -> pd.DataFrame:
    """Return one row per stroke that changed, numbered as in the picture."""
    rows: list[dict[str, object]] = []
    for number, change in enumerate(compared.changes, 1):
        x, y = change.points_mm[len(change.points_mm) // 2]
        rows.append(
            {
                "number": str(number),
                "kind": change.kind,
                "x_mm": float(x),
                "y_mm": float(y),
                "length_mm": change.length_mm,
                "width_um": change.width_mm * UM_PER_MM,
                "load_before_um": change.load_before_um,
                "load_after_um": change.load_after_um,
                "doubt": change.doubt,
                "wkt": f"LINESTRING ({_points(change.points_mm)})",
            }
        )
    return make_table(rows, CHANGES)


def areas_table(compared: ComparedStates) -> pd.DataFrame:
    """Return one row per area on which several strokes changed alike, or whose tone changed."""
    rows: list[dict[str, object]] = []
    for number, area in enumerate(compared.areas, 1):
        x, y = area.outline_mm.mean(axis=0)
        ring = np.vstack((area.outline_mm, area.outline_mm[:1]))
        before, after = area.tone_density or (float("nan"), float("nan"))
        rows.append(
            {
                "number": str(number),
                "kind": area.kind,
                "work": "lines" if area.tone_density is None else "tone",
                "x_mm": float(x),
                "y_mm": float(y),
                "area_mm2": area.area_mm2,
                "strokes": float(area.strokes),
                "length_mm": area.length_mm,
                "tone_before_density": before,
                "tone_after_density": after,
                "doubt": area.doubt,
                "wkt": f"POLYGON (({_points(ring)}))",
            }
        )
    return make_table(rows, CHANGED_AREAS)


def _points(points_mm: Points) -> str:
    return ", ".join(f"{x:.3f} {y:.3f}" for x, y in points_mm)
