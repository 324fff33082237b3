"""From measurements of sheets laid down again to the table of how far they repeat."""

import math

import numpy as np
import pandas as pd

from proofkit.arrays import Floats, Index
from proofkit.columns import MEASURES, REPEATABILITY, make_table, names
from proofkit.study.components import detectable_change, nested_components, upper_limit

SHEET = "sheet"
"""Stands in the region column for what concerns the whole sheet."""

LEVELS = ("operator", "day")
"""Outermost first; the single lay comes last by itself."""

SHEET_MEASURES = (
    "plate_width_mm", "plate_height_mm", "stretch_x", "stretch_y", "shear", "misfit_um", "blur_um", "paper_density",
    "paper_a", "paper_b", "bevel_density",
)  # fmt: skip
"""Columns of `sheets` that a sheet has of its own, however it lies on the glass."""

_PERIODS = {"line_angle_deg": 180.0, "streak_deg": 180.0, "plate_tone_slope_deg": 360.0}
"""Directions come round again. [deg]"""


def repeatability_table(measurements: pd.DataFrame, sheets: pd.DataFrame, lays: pd.DataFrame) -> pd.DataFrame:
    """Return how far each measure of each region repeats.

    Parameters
    ----------
    measurements, sheets : DataFrame
        Tables of the scans; their column `pull` names the scan.
    lays : DataFrame
        Indexed by that name: columns `sheet`, `day`, `operator` (empty texts where not told).

    Returns
    -------
    DataFrame
        Table `repeatability`; a measure that no sheet has twice has no row.
    """
    rows: list[dict[str, object]] = []
    for region, part in measurements.groupby("region", sort=False):
        rows += _rows(str(region), part, names(MEASURES), lays)
    rows += _rows(SHEET, sheets, [name for name in SHEET_MEASURES if name in sheets.columns], lays)
    return make_table(rows, REPEATABILITY)


def _rows(
    region: str, part: pd.DataFrame, measures: list[str], lays: pd.DataFrame
) -> list[dict[str, object]]:
    about = lays.reindex(part["pull"])
    rows = []
    for measure in measures:
        values = part[measure].to_numpy(dtype=np.float64)
        if measure in _PERIODS:
            values = unwrapped(values, _PERIODS[measure])
        row = _row(values, about)
        if row is not None:
            rows.append({"region": region, "measure": measure, **row})
    return rows


def _row(values: Floats, about: pd.DataFrame) -> dict[str, object] | None:
    known = np.isfinite(values)
    sheets = about["sheet"].to_numpy()
    repeated = known & np.array([(sheets[known] == sheet).sum() > 1 for sheet in sheets], dtype=bool)
    if repeated.sum() < 2:
        return None
    used = about[repeated]
    told = [(level, _codes(used[level])) for level in LEVELS if (used[level] != "").all()]
    nested = nested_components(values[repeated], _codes(used["sheet"]), told)
    deviation = math.sqrt(nested.variance)
    parts = {f"{one.level}_sd": math.sqrt(one.variance) for one in nested.components if one.freedom}
    return {
        "mean": float(values[repeated].mean()),
        "sheets": float(used["sheet"].nunique()),
        "scans": float(repeated.sum()),
        **parts,
        "relay_sd": deviation,
        "freedom": nested.freedom,
        "relay_sd_upper": upper_limit(deviation, nested.freedom),
        "minimal_detectable_change": detectable_change(deviation),
    }


def _codes(labels: "pd.Series[str]") -> Index:
    return np.asarray(pd.factorize(labels)[0], dtype=np.intp)


def unwrapped(angles_deg: Floats, period_deg: float) -> Floats:
    """Return angles as numbers near their mean direction, so that 179 and 1 differ by 2.

    >>> unwrapped(np.array([179.0, 1.0]), 180.0).round(6).tolist()
    [179.0, 181.0]
    """
    known = angles_deg[np.isfinite(angles_deg)]
    if known.size == 0:
        return angles_deg
    turn = 2 * np.pi / period_deg
    centre = np.angle(np.exp(1j * turn * known).mean()) / turn
    centre = centre + period_deg * np.round((known[0] - centre) / period_deg)
    return np.asarray(centre + (angles_deg - centre + period_deg / 2) % period_deg - period_deg / 2)
