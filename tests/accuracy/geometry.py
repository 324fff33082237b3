"""How far laid plate points lie from where they are."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from shapely import contains_xy

from proofkit.arrays import Points
from proofkit.laying.types import to_plate_mm, to_sheet_px
from proofkit.units import UM_PER_MM, px_per_mm
from tests.accuracy.rows import Row, errors_row
from tests.accuracy.tables import Checked

LAYING_UM = 30.0
STRETCH = 0.0003

WRONG_PITCH = 0.5
"""A region is matched to a wrong line when its points are off by more than this share of the mean spacing."""


def _laid_and_true_px(checked: Checked, pull: str) -> tuple[Points, Points, Points] | None:
    """Return true plate mm of grid points, where they were laid on one sheet and where they are [px].

    The plate frame of the program starts at the mark it found, so truth is taken over by way of the standard's pixels:
    the same point of copper on both sheets.
    """
    if checked.true_grid is None or pull not in checked.layings or checked.standard not in checked.layings:
        return None
    grids = {p: g for p, g in checked.true_grid.groupby("pull") if p in (pull, checked.standard)}
    here, there = grids[pull], grids[checked.standard]
    plate_mm = to_plate_mm(checked.layings[checked.standard], there[["x_px", "y_px"]].to_numpy(float))
    laid = to_sheet_px(checked.layings[pull], plate_mm)
    return here[["x_mm", "y_mm"]].to_numpy(float), laid, here[["x_px", "y_px"]].to_numpy(float)


@dataclass(slots=True)
class _Laid:
    """What is gathered over editions and sheets."""

    worked: list[float] = field(default_factory=list)
    anywhere: list[float] = field(default_factory=list)
    stretch: list[float] = field(default_factory=list)
    strain: list[float] = field(default_factory=list)
    """Errors of the stretch of worked regions alone, from the laid map: where there are no lines none can be known."""
    turn: list[float] = field(default_factory=list)
    wrong: int = 0
    regions: int = 0
    notes: list[str] = field(default_factory=list)


def geometry_rows(editions: list[Checked]) -> tuple[list[Row], list[str]]:
    """Return the rows on laying, and one note for each sheet that is laid badly."""
    laid = _Laid()
    for checked in editions:
        # Beyond a crease no smooth laying can be right, so creased sheets are left out.
        creased = checked.true_pulls[["cause", "second_cause"]].eq("crease").any(axis=1)
        pulls = [p for p in checked.sheets.index if not creased.loc[p] and p != checked.standard]
        for pull in pulls:
            _add_sheet(laid, checked, pull)
        laid.stretch += _stretch_errors(checked, pulls)
        laid.turn += list(
            checked.sheets.loc[pulls, "rotation_deg"] - checked.true_sheets.loc[pulls, "rotation_deg"]
        )
    rows = [
        errors_row("laying, worked regions: rms distance of plate points", laid.worked, "µm", LAYING_UM),
        errors_row("laying, whole plate: rms distance of plate points", laid.anywhere, "µm", None),
        Row("laying: regions matched to a wrong line", laid.wrong, "", 0.0, "<=", laid.regions),
        errors_row("stretch against the standard", laid.stretch, "", STRETCH),
        errors_row("stretch of worked regions, from the laid map", laid.strain, "", None),
        errors_row("turn of the sheet", laid.turn, "deg", None),
    ]
    return rows, laid.notes


def _add_sheet(laid: _Laid, checked: Checked, pull: str) -> None:
    found = _laid_and_true_px(checked, pull)
    if found is None:
        return
    points, laid_px, true_px = found
    errors = np.hypot(*(laid_px - true_px).T) / px_per_mm(checked.ppi) * UM_PER_MM
    sheet = f"{checked.edition.folder.name} pull {pull}"
    lined = np.zeros(len(points), dtype=bool)
    for region in checked.edition.regions:
        if region.work not in {"lines", "drypoint"}:
            continue
        inside = contains_xy(region.outline_mm, points[:, 0], points[:, 1])
        lined |= inside
        length = checked.true_measures["line_length_mm_per_mm2"].get((pull, region.name), np.nan)
        if not inside.any() or not np.isfinite(length):
            continue
        laid.regions += 1
        off = np.abs(_across_the_lines(checked, region.name, laid_px[inside] - true_px[inside]))
        median, spacing = float(np.median(off)) / px_per_mm(checked.ppi) * UM_PER_MM, UM_PER_MM / length
        if median > WRONG_PITCH * spacing:
            laid.wrong += 1
            laid.notes.append(f"{sheet} {region.name!r}: off by {median:.0f} µm, spacing {spacing:.0f} µm")
    laid.strain += _strain_errors(points[lined], laid_px[lined], true_px[lined])
    laid.worked.append(float(np.sqrt(np.mean(errors[lined] ** 2))))
    laid.anywhere.append(float(np.sqrt(np.mean(errors**2))))
    if laid.worked[-1] > LAYING_UM:
        laid.notes.append(f"{sheet}: laid {laid.worked[-1]:.0f} µm off in worked regions")


def _across_the_lines(checked: Checked, region: str, errors_px: Points) -> np.ndarray:
    """Return the part of each error that runs across a region's lines, or all of it where they run in two directions.

    Along a straight line nothing says where on it a point lies, and no measure of the line changes with that.
    """
    said = checked.measurements.loc[(checked.standard, region)]
    if not np.isfinite(said["line_angle_deg"]) or np.isfinite(said["second_line_angle_deg"]):
        return np.hypot(*errors_px.T)
    turn = np.radians(said["line_angle_deg"])
    return errors_px @ np.array([np.sin(turn), np.cos(turn)])


def _strain_errors(points_mm: Points, laid_px: Points, true_px: Points) -> list[float]:
    """Return errors of the stretch along x and y of the best affine map through some points."""
    design = np.column_stack((points_mm, np.ones(len(points_mm))))
    fits = [np.linalg.lstsq(design, px, rcond=None)[0] for px in (laid_px, true_px)]
    laid, true = (np.hypot(fit[:2, 0], fit[:2, 1]) for fit in fits)
    return list(laid / true - 1)


def _stretch_errors(checked: Checked, pulls: list[str]) -> list[float]:
    errors: list[float] = []
    for axis in ("stretch_x", "stretch_y"):
        found = _against_standard(checked.sheets[axis], checked.standard)
        true = _against_standard(checked.true_sheets[axis], checked.standard)
        errors += list((found - true).loc[pulls])
    return errors


def _against_standard(column: pd.Series, standard: str) -> pd.Series:
    return column / column.loc[standard]
