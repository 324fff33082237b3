"""The printer's own limits: they override statistics for the measures they name."""

import math

import pandas as pd

from proofkit.folder.edition import Tolerance
from proofkit.judgement.findings import Finding, direction
from proofkit.judgement.good_pulls import GoodPulls


def limit_of(tolerances: tuple[Tolerance, ...], region: str, measure: str) -> float | None:
    """Return the allowed difference from the standard, None where the printer set none.

    A limit for a named region comes before one for all regions (`*`).
    """
    chosen: float | None = None
    for tolerance in tolerances:
        if tolerance.measure != measure:
            continue
        if tolerance.region == region:
            return tolerance.allowed
        if tolerance.region == "*":
            chosen = tolerance.allowed
    return chosen


def _spread(good: GoodPulls, region: str, measure: str) -> float:
    fit = good.fits.get(measure)
    if fit is None or region not in fit.column.regions:
        return float("nan")
    index = fit.column.regions.index(region)
    centre = float(fit.centre[index])
    above, below = (
        float(fit.column.natural(fit.centre[index] + sign * fit.total.good_spread[index]))
        for sign in (1.0, -1.0)
    )
    return (above - below) / 2 if math.isfinite(centre) else float("nan")


def printer_findings(
    measurements: pd.DataFrame,
    good: GoodPulls,
    pulls: tuple[str, ...],
    standard: str,
    tolerances: tuple[Tolerance, ...],
) -> list[Finding]:
    """Return what exceeds the printer's limits.

    Parameters
    ----------
    measurements : pandas.DataFrame
        Table `measurements`.
    good : GoodPulls
        For the spread that is told beside the difference.
    pulls : tuple of str
        Pulls that can be compared.
    standard : str
    tolerances : tuple of Tolerance

    Returns
    -------
    list of Finding
        With no q_value, as no chance is involved.
    """
    found: list[Finding] = []
    for measure in dict.fromkeys(tolerance.measure for tolerance in tolerances):
        if measure not in measurements.columns:
            continue
        rows = (
            measurements[["pull", "region", measure]]
            .groupby(["pull", "region"], as_index=False)
            .mean()
            .dropna()
        )
        by_place = {
            (str(pull), str(region)): float(value)
            for pull, region, value in zip(rows["pull"], rows["region"], rows[measure], strict=True)
        }
        for (pull, region), value in by_place.items():
            allowed = limit_of(tolerances, region, measure)
            reference = by_place.get((standard, region))
            if allowed is None or reference is None or pull not in pulls or pull == standard:
                continue
            difference = value - reference
            if abs(difference) <= allowed:
                continue
            spread = _spread(good, region, measure)
            found.append(
                Finding(
                    pull,
                    region,
                    measure,
                    value,
                    reference,
                    spread,
                    difference / spread if spread > 0 else float("nan"),
                    float("nan"),
                    direction(measure, higher=difference > 0),
                )
            )
    return found
