"""Agreement of two ways of measuring the same things: bias and limits of agreement."""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from proofkit.arrays import Floats
from proofkit.figures.words import PRIMARY

LIMIT = 1.96
"""Standard deviations to a limit of agreement: 95 % of a normal distribution. [-]"""

FEWEST_PAIRS = 3


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two ways of measuring agree."""

    pairs: int
    bias: float
    """Mean of first minus second. [unit of the values]"""
    bias_low: float
    bias_high: float
    """95 % interval of the bias."""
    deviation: float
    """Standard deviation of the differences."""
    lower: float
    upper: float
    """Limits between which 95 of 100 differences lie."""
    limit_error: float
    """Standard error of either limit."""


def agreement(first: Floats, second: Floats) -> Agreement:
    """Return bias and limits of agreement of paired measurements.

    Parameters
    ----------
    first, second : Floats
        (n,) of the same things; pairs with a NaN are left out.

    Raises
    ------
    ValueError
        With fewer than three pairs.

    References
    ----------
    .. [1] J. M. Bland, D. G. Altman, Statistical methods for assessing agreement between two methods of clinical
       measurement, Lancet 327 (1986) 307-310.
    .. [2] D. Giavarina, Understanding Bland Altman analysis, Biochem. Med. 25 (2015) 141-151. The variance of a limit
       is (1/n + 1.96²/(2(n-1))) s² here; both papers round it to 3 s²/n.
    """
    apart = (first - second)[np.isfinite(first) & np.isfinite(second)]
    if apart.size < FEWEST_PAIRS:
        raise ValueError(f"agreement needs {FEWEST_PAIRS} pairs, there are {apart.size}")
    bias, deviation = float(apart.mean()), float(apart.std(ddof=1))
    reach = float(stats.t.ppf(0.975, apart.size - 1)) * deviation / math.sqrt(apart.size)
    limit_error = deviation * math.sqrt(1 / apart.size + LIMIT**2 / (2 * (apart.size - 1)))
    return Agreement(
        int(apart.size),
        bias,
        bias - reach,
        bias + reach,
        deviation,
        bias - LIMIT * deviation,
        bias + LIMIT * deviation,
        limit_error,
    )


@dataclass(frozen=True, slots=True)
class Between:
    """How two operators or days agree in one measure."""

    level: str
    first: str
    second: str
    measure: str
    agreement: Agreement


def agreements(measurements: pd.DataFrame, lays: pd.DataFrame) -> list[Between]:
    """Return how each two operators, or else each two days, agree in the measures that are read first.

    A pair is one region of one sheet, as the mean of all its scans by either side.

    Parameters
    ----------
    measurements : DataFrame
        Of the scans; the column `pull` names the scan.
    lays : DataFrame
        Indexed by that name: columns `sheet`, `day`, `operator`.
    """
    level = next((one for one in ("operator", "day") if len(set(lays[one])) > 1), None)
    if level is None:
        return []
    about = lays.reindex(measurements["pull"])
    table = measurements.assign(sheet=about["sheet"].to_numpy(), side=about[level].to_numpy())
    found = []
    for measure in PRIMARY:
        means = table.pivot_table(values=measure, index=["sheet", "region"], columns="side", aggfunc="mean")
        for first, second in itertools.combinations(means.columns, 2):
            pairs = means[[first, second]].dropna()
            if len(pairs) >= FEWEST_PAIRS:
                both = [pairs[side].to_numpy(dtype=np.float64) for side in (first, second)]
                found.append(Between(level, str(first), str(second), measure, agreement(*both)))
    return found
