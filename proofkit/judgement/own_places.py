"""Sheets with more single places of their own than the pile: specks that no region's measure need show."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from proofkit.arrays import Floats
from proofkit.columns import FINDINGS, JUDGEMENT, make_table
from proofkit.distributions import gamma_quantile, negative_binomial_above, normal_exceeded, poisson_above
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE, SMALLEST_P, adjusted
from proofkit.judgement.types import Judged
from proofkit.judgement.values import SHEET
from proofkit.wording import percent

MEASURE = "own_places"
CAUSE = "specks"
DRY = "dry paper"

LIGHT_SHARE = 0.8
"""Where so many of the marks are light, lines break up on dry paper, which grit and skin of ink do not explain. [-]"""

LEAST_LENGTH_MM = 0.3
"""Shorter marks are the grain of paper and scan as often as the sheet's. [mm]"""


def largest_rate(counts: Floats) -> float:
    """Return the largest mean count that a pile's median allows, as faulty sheets do not move a median.

    The median of Poisson counts is m as long as the chance of m or fewer is at least a half; the mean at which it is
    just a half is the median of a gamma distribution of shape m + 1.

    >>> round(largest_rate(np.array([0.0, 0.0, 9.0])), 3)
    0.693
    """
    return float(gamma_quantile(0.5, np.floor(np.median(counts)) + 1.0))


def scatter(counts: Floats, rate: float) -> float:
    """Return the variance of a pile's counts of own places: Poisson's, or more where the sheets differ by more.

    Burr and paper that breaks lines give some sheets many marks and others none. The variance is told by the quartiles,
    which a quarter of the sheets, faulty ones, do not move.

    >>> scatter(np.array([0.0, 0, 0, 0, 1, 1, 0, 30]), 0.7), round(scatter(np.array([0.0, 1, 4, 9, 15]), 4.7), 1)
    (0.7, 35.2)
    """
    low, high = np.percentile(counts, (25, 75))
    # A normal distribution's quartiles lie 1.349 standard deviations apart.
    return max(float(rate), float((high - low) / 1.349) ** 2)


def with_places(judged: Judged, places: pd.DataFrame) -> Judged:
    """Return a judgement that also tells of sheets with more places of their own than chance gives.

    A place that recurs on other pulls is the plate's, and no fault of the sheet. Counts of the rest are compared with
    a Poisson distribution whose mean is the largest that fits the median of the pile, or with a negative binomial one
    where the pile scatters by more; the false discovery rate is bounded over the sheets that match in their measures.
    A sheet that leaves the standard already keeps its verdict: broken lines of dry paper and the second image of a
    doubled sheet are marks too.

    Parameters
    ----------
    judged : Judged
        With verdicts by measures.
    places : DataFrame
        Table `places`.
    """
    table = judged.judgement.assign(pull=judged.judgement["pull"].astype(str))
    own = places.loc[(places["recurs_on"] == 0) & (places["length_mm"] >= LEAST_LENGTH_MM)]
    counted = own["pull"].astype(str).value_counts()
    if judged.limits.empty or counted.empty:
        return judged
    pile = table.loc[table["verdict"].isin(["standard", "matches", "look again"]), "pull"]
    counts = np.asarray(counted.reindex(pile, fill_value=0), dtype=np.float64)
    matches = np.asarray(pile.isin(table.loc[table["verdict"] == "matches", "pull"]), dtype=np.bool_)
    rate = largest_rate(counts)
    rows = _findings([str(pull) for pull in pile[matches]], counts[matches], rate, scatter(counts, rate))
    if not rows:
        return judged
    on_standard = float(
        counted.reindex([*table.loc[table["verdict"] == "standard", "pull"]], fill_value=0).sum()
    )
    found = make_table([row | {"standard_value": on_standard} for row in rows], FINDINGS)
    flagged = {row["pull"] for row in rows}
    told = [
        _told(row, own.loc[own["pull"].astype(str) == row["pull"]]) if row["pull"] in flagged else row
        for row in _records(table)
    ]
    return replace(
        judged,
        findings=_in_order(judged.findings, found, [*table["pull"]]),
        judgement=make_table(told, JUDGEMENT),
        remarks=(*judged.remarks, _remark(len(found))),
        expected_false=judged.expected_false + float(found["q_value"].max()) * len(found),
    )


def _findings(pulls: Sequence[str], counts: Floats, rate: float, variance: float) -> list[dict[str, object]]:
    """Return a finding, but for its standard value, for each pull that has more places than chance gives."""
    if variance > rate:
        chance = negative_binomial_above(counts - 1, rate**2 / (variance - rate), rate / variance)
    else:
        chance = poisson_above(counts - 1, rate)
    p = np.maximum(chance, SMALLEST_P)
    q = adjusted(p)
    return [
        {
            "pull": str(pulls[k]),
            "region": SHEET,
            "measure": MEASURE,
            "value": counts[k],
            "spread": np.sqrt(variance),
            "deviation": float(normal_exceeded(p[k])),
            "q_value": float(q[k]),
            "direction": "higher",
        }
        for k in map(int, np.flatnonzero(q <= FALSE_DISCOVERY_RATE))
    ]


def _remark(count: int) -> str:
    sheets = "1 sheet is" if count == 1 else f"{count} sheets are"
    return (
        f"{sheets} flagged by single places alone (false discovery rate {percent(FALSE_DISCOVERY_RATE)} over the "
        "sheets that match in their measures)."
    )


def _records(table: pd.DataFrame) -> list[dict[str, object]]:
    return [
        {str(name): cell for name, cell in row.items()} for row in table.astype(object).to_dict("records")
    ]


def _told(row: dict[str, object], own: pd.DataFrame) -> dict[str, object]:
    """Return the verdict of a sheet that has nothing but its places."""
    largest = max(_records(own), key=lambda place: float(str(place["length_mm"])))
    said = (
        f"Marks that no other pull has: {len(own)}, the longest a {largest['kind']} of {largest['length_mm']:.1f} mm "
        f"at x {largest['x_mm']:.1f}, y {largest['y_mm']:.1f} mm; see the places."
    )
    regions = dict.fromkeys(
        name for names in own["regions"].astype(str) for name in names.split("; ") if name
    )
    light = int((own["ink_change"] < 0).sum())
    is_light = light >= LIGHT_SHARE * len(own)
    if is_light:
        said += f" {light} of them are bare: paper too dry breaks lines up, lint keeps single spots bare."
    return row | {
        "verdict": "look again",
        "causes": f"{DRY}; {CAUSE}" if is_light else CAUSE,
        "regions": "; ".join(regions),
        "reason": f"{said} Nothing else was found to leave the standard.",
    }


def _in_order(findings: pd.DataFrame, more: pd.DataFrame, pulls: list[str]) -> pd.DataFrame:
    """Return both tables of findings as one, pull by pull."""
    both = more if findings.empty else pd.concat([findings, more], ignore_index=True)
    place = both["pull"].astype(str).map({pull: k for k, pull in enumerate(pulls)})
    return both.iloc[np.argsort(place.to_numpy(), kind="stable")].reset_index(drop=True)
