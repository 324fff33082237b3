"""Table of centres, spreads and limits, for the figures and for whoever asks why a sheet was flagged."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.distributions import t_quantile
from proofkit.folder.edition import Tolerance
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE
from proofkit.judgement.findings import in_units
from proofkit.judgement.fit import Fit
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.parts import Part
from proofkit.judgement.tolerances import limit_of
from proofkit.judgement.values import SHEET

LIMIT_COLUMNS = (
    "region",
    "measure",
    "centre",
    "spread",
    "lower",
    "upper",
    "standard_value",
    "source",
    "is_trial",
)

FEW_PULLS = 8
"""Below this many good pulls a limit is called trial: the spread is known to a quarter of itself at best
(1/sqrt(2(n-1)), JCGM 100, E.4.3)."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where one row of the table stands on the judged scale."""

    region: str
    index: int
    """Of the region in the fit; of the first one for the common part."""
    centre: float
    spread: float


def _row(fit: Fit, part: Part, place: _Place, tests: int) -> dict[str, object]:
    """Return one row; `tests` pulls share the chance of a false alarm in this row."""
    judged = fit.column.judged
    freedom = float(np.maximum(part.freedom[place.index], 1.0))
    chance = FALSE_DISCOVERY_RATE / max(tests, 1) / (2 if judged.sides == "both" else 1)
    count = float(part.count[place.index])
    reach = float(-t_quantile(chance, freedom)) * place.spread * np.sqrt(1 + 1 / max(count, 1.0))
    middle = float(fit.column.natural(np.array(place.centre)))
    lower, upper = (float(fit.column.natural(np.array(place.centre + sign * reach))) for sign in (-1, 1))
    least = middle * judged.matters if judged.scale == "log" else judged.matters
    known = fit.column.on_standard[np.isfinite(fit.column.on_standard)]
    own = place.region != SHEET or fit.column.regions == (SHEET,)
    standard = (
        float(fit.column.on_standard[place.index])
        if own
        else float(np.median(known))
        if known.size
        else np.nan
    )
    return {
        "region": place.region,
        "measure": judged.measure,
        "centre": middle,
        "spread": float(in_units(fit, place.centre, np.array(place.spread))),
        "lower": min(lower, middle - least) if judged.sides != "upper" else np.nan,
        "upper": max(upper, middle + least) if judged.sides != "lower" else np.nan,
        "standard_value": standard,
    }


def _rows(fit: Fit, tests: int) -> list[dict[str, object]]:
    if not np.isfinite(fit.centre).any():
        return []
    middle = float(np.nanmedian(fit.centre))
    rows = [_row(fit, fit.sheet, _Place(SHEET, 0, middle, fit.sheet_spread), tests)]
    if fit.column.regions == (SHEET,):
        return rows
    for index, region in enumerate(fit.column.regions):
        if np.isfinite(fit.centre[index]):
            place = _Place(region, index, float(fit.centre[index]), float(fit.total.good_spread[index]))
            rows.append(_row(fit, fit.total, place, tests))
    return rows


def limits_table(good: GoodPulls, tolerances: tuple[Tolerance, ...]) -> pd.DataFrame:
    """Return one row per region and measure with the limits of good pulls.

    Parameters
    ----------
    good : GoodPulls
    tolerances : tuple of Tolerance
        Where the printer set one, the limits are the standard plus and minus it.

    Returns
    -------
    pandas.DataFrame
        Columns `LIMIT_COLUMNS`. The region `sheet` stands for what all regions of a sheet have in common. A run of
        good pulls as long as this edition leaves the limits of one row with the chance `FALSE_DISCOVERY_RATE`;
        limits never lie nearer than the smallest difference that matters. A side on which leaving does no harm has
        no limit.
    """
    rows: list[dict[str, object]] = []
    tests = len(good.good)
    for fit in good.fits.values():
        if not fit.column.judged.finds:
            continue
        for row in _rows(fit, tests):
            allowed = limit_of(tolerances, str(row["region"]), fit.column.judged.measure)
            reference = float(str(row["standard_value"]))
            is_own = allowed is not None and row["region"] != SHEET and np.isfinite(reference)
            if is_own and allowed is not None:
                row |= {"lower": reference - allowed, "upper": reference + allowed}
            row["source"] = "printer" if is_own else "confirming" if good.from_confirming else "edition"
            few = int(good.good.sum()) < FEW_PULLS or not good.from_confirming
            row["is_trial"] = bool(few and not is_own)
            rows.append(row)
    return pd.DataFrame(rows, columns=list(LIMIT_COLUMNS))
