"""Readings: what a flagged sheet shows, symptom by symptom, in five steps from clearly lower to clearly higher.

A reading is taken where the sheet leaves the standard: over all regions when the whole sheet does, else over the
regions concerned. What cannot be seen is no reading, and speaks neither for nor against a cause.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.judgement.fit import Fit, fit_column
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.scales import Judged
from proofkit.judgement.values import SHEET, Column, Values

NOTICED = 2.0
"""From here a deviation is a hint. [standard deviations]"""

CLEAR = 3.5
"""From here, and if worth a look, it is clear. [standard deviations]"""

CONTRASTS = {
    "fine_against_broad": Judged(
        "fine_against_broad", "linear", 0.02, 0.015, 0.05, source="half of a load's spread"
    ),
    "gaps_against_film": Judged("gaps_against_film", "linear", 0.010, 0.008, 0.02),
    "drypoint_against_rest": Judged("drypoint_against_rest", "linear", 0.03, 0.02, 0.08),
}
"""Differences of two measures that causes turn on; they are read, never flagged."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One symptom of one sheet."""

    level: int
    """-2 clearly lower, -1 a little lower, 0 unchanged, 1 a little higher, 2 clearly higher."""
    value: float
    """On this sheet, in the unit of the measure."""
    centre: float
    """Of good pulls."""
    z: float
    """In standard deviations."""


def _contrast(judged: Judged, first: Column, second: Column, values: Floats) -> Column:
    regions = first.regions
    u = np.sqrt(first.uncertainties**2 + second.uncertainties[:, : first.uncertainties.shape[1]] ** 2)
    return Column(judged, regions, values, u, np.full(len(regions), np.nan))


def _aligned(first: Column, second: Column) -> tuple[Column, Column]:
    """Return both columns with the regions they share."""
    shared = tuple(region for region in first.regions if region in second.regions)

    def pick(column: Column) -> Column:
        at = [column.regions.index(region) for region in shared]
        return Column(
            column.judged, shared, column.scaled[:, at], column.uncertainties[:, at], column.on_standard[at]
        )

    return pick(first), pick(second)


def contrasts(values: Values, good: Mask, drypoint: tuple[str, ...]) -> dict[str, Fit]:
    """Return the fits of the contrasts that the measured columns allow.

    Parameters
    ----------
    values : Values
    good : Mask
        (pulls,) the good pulls.
    drypoint : tuple of str
        Names of the drypoint regions.

    Returns
    -------
    dict of str to Fit
        `fine_against_broad`: relative load of the finest lines less that of the broadest, per region;
        `gaps_against_film`: ground between lines less the sheet's plate tone, D; `drypoint_against_rest`: relative
        load of drypoint less that of the other line work, per sheet.
    """
    found: dict[str, Column] = {}
    columns = values.columns
    if "fine_line_load_um" in columns and "broad_line_load_um" in columns:
        fine, broad = _aligned(columns["fine_line_load_um"], columns["broad_line_load_um"])
        if fine.regions:
            found["fine_against_broad"] = _contrast(
                CONTRASTS["fine_against_broad"], fine, broad, fine.scaled - broad.scaled
            )
    if "ground_between_lines_density" in columns and "plate_tone_density" in columns:
        gaps, film = columns["ground_between_lines_density"], columns["plate_tone_density"]
        usual = film.scaled - _mean(film.scaled[good])
        change = np.array(
            [np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in usual]
        )
        found["gaps_against_film"] = Column(
            CONTRASTS["gaps_against_film"],
            gaps.regions,
            gaps.scaled - change[:, None],
            gaps.uncertainties,
            gaps.on_standard,
        )
    load = columns.get("line_load_um")
    if load is not None and any(region in drypoint for region in load.regions):
        burr = np.array([region in drypoint for region in load.regions], dtype=bool)
        if not burr.all():
            difference = _row_median(load.scaled[:, burr]) - _row_median(load.scaled[:, ~burr])
            found["drypoint_against_rest"] = Column(
                CONTRASTS["drypoint_against_rest"],
                (SHEET,),
                difference[:, None],
                np.zeros((len(values.pulls), 1)),
                np.full(1, np.nan),
            )
    return {name: fit_column(column, good) for name, column in found.items()}


def _mean(values: Floats) -> Floats:
    known = np.isfinite(values)
    count = known.sum(axis=0)
    return np.asarray(
        np.where(count > 0, np.where(known, values, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)
    )


def _row_median(values: Floats) -> Floats:
    return np.array(
        [np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in values]
    )


def graded(z: float, change: float, matters: float) -> int:
    """Return the step of a deviation: 0, a hint (1) or clear (2), with its sign.

    >>> graded(-4.0, -0.2, 0.06), graded(2.5, 0.05, 0.06), graded(9.0, 0.001, 0.06)
    (-2, 1, 0)
    """
    if not np.isfinite(z) or abs(z) < NOTICED or abs(change) < matters / 2:
        return 0
    step = 2 if abs(z) >= CLEAR and abs(change) >= matters else 1
    return step if z > 0 else -step


def read(fit: Fit | None, pull: int, regions: frozenset[str] | None) -> Reading | None:
    """Return one symptom of one sheet.

    Parameters
    ----------
    fit : Fit or None
        None: the measure was not made in this edition.
    pull : int
        Index of the pull.
    regions : frozenset of str or None
        Where to look; None = the whole sheet.

    Returns
    -------
    Reading or None
        None when nothing was measured there.
    """
    if fit is None:
        return None
    chosen = [
        index
        for index, region in enumerate(fit.column.regions)
        if (regions is None or region in regions or region == SHEET)
        and np.isfinite(fit.total.deviation[pull, index])
    ]
    if not chosen:
        return None
    judged = fit.column.judged
    centre_scaled = float(np.median(fit.centre[chosen]))
    if regions is None and len(fit.column.regions) > 1:
        deviation, spread = float(fit.sheet.deviation[pull, 0]), float(fit.sheet.spread[pull, 0])
        z = deviation / spread
    else:
        deviation = float(np.median(fit.total.deviation[pull, chosen]))
        z = float(np.median(fit.total.deviation[pull, chosen] / fit.total.spread[pull, chosen]))
    value = float(fit.column.natural(np.array(centre_scaled + deviation)))
    centre = float(fit.column.natural(np.array(centre_scaled)))
    change = value / centre - 1 if judged.scale == "log" else value - centre
    return Reading(graded(z, change, judged.matters), value, centre, z)


def ramp(good: GoodPulls, pull: int, kind: str) -> tuple[Reading | None, Floats]:
    """Return the ramp over the plate of `kind` ("film" or "load") and its (x, y) rise.

    The reading is never lower: a ramp has a direction, not a sign.
    """
    unit = "density" if kind == "film" else "fraction"
    readings = [read(good.fits.get(f"{kind}_ramp_{axis}_{unit}"), pull, None) for axis in "xy"]
    if any(reading is None for reading in readings):
        return None, np.full(2, np.nan)
    rise = np.array([reading.value - reading.centre for reading in readings if reading is not None])
    steepest = max(
        (reading for reading in readings if reading is not None), key=lambda reading: abs(reading.z)
    )
    return Reading(abs(steepest.level), float(np.hypot(*rise)), 0.0, abs(steepest.z)), rise
