"""Readings: what a flagged sheet shows, symptom by symptom, in five steps from clearly lower to clearly higher.

A reading is taken where the sheet leaves the standard: over all regions when the whole sheet does, else over the
regions concerned. What cannot be seen is no reading, and speaks neither for nor against a cause.
"""

import math
from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats
from proofkit.judgement.fit import Fit
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.values import SHEET

NOTICED = 2.0
"""From here a deviation is a hint. [standard deviations]"""

CLEAR = 3.5
"""From here, and if worth a look, it is clear. [standard deviations]"""


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
    """In standard deviations; infinite or NaN for what has no number."""
    telling: float = math.nan
    """The same, but no larger than the difference is worth: what matters just so counts as `CLEAR`. NaN = no number."""


def graded(z: float, change: float, matters: float) -> int:
    """Return the step of a deviation: 0, a hint (1) or clear (2), with its sign.

    >>> graded(-4.0, -0.2, 0.06), graded(2.5, 0.05, 0.06), graded(9.0, 0.001, 0.06)
    (-2, 1, 0)
    """
    if not np.isfinite(z) or abs(z) < NOTICED or abs(change) < matters / 2:
        return 0
    step = 2 if abs(z) >= CLEAR and abs(change) >= matters else 1
    return step if z > 0 else -step


def telling(z: float, change: float, matters: float) -> float:
    """Return a deviation bounded by what the difference is worth.

    >>> telling(9.0, 0.03, 0.06), telling(-2.0, -0.06, 0.06)
    (1.75, -2.0)
    """
    return math.copysign(min(abs(z), CLEAR * abs(change) / matters), z)


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
    step = graded(z, change, judged.matters)
    return Reading(step, value, centre, z, telling(z, change, judged.matters))


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
    return Reading(
        abs(steepest.level), float(np.hypot(*rise)), 0.0, abs(steepest.z), abs(steepest.telling)
    ), rise
