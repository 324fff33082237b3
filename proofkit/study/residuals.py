"""Checks of what a model leaves over; a check always tells how large a departure is, and how likely by chance."""

import math

import numpy as np
from scipy import stats

from proofkit.arrays import Floats
from proofkit.study.models import Fitted

FEWEST = 8
"""Below so many rows no check of this kind sees anything but gross departures. [-]"""

DOUBT = 0.05
"""Chance below which a departure is spoken of. [-] Convention."""


def residual_checks(fitted: Fitted, order: Floats) -> list[dict[str, object]]:
    """Return rows of the table `residuals` without response and region.

    Parameters
    ----------
    fitted : Fitted
    order : Floats
        (n,) place of each row in the order of the work, such as the order of printing.

    References
    ----------
    .. [1] S. S. Shapiro, M. B. Wilk, Biometrika 52 (1965) 591-611: normal shape.
    .. [2] R. J. Freund and others' practice of plotting residuals against fitted values and order, here as Spearman's
       rank correlations (common practice).
    """
    left = fitted.residuals
    if left.size < FEWEST or np.ptp(left) == 0:
        why = f"{left.size} rows: too few to check" if left.size < FEWEST else "nothing is left over"
        return [{"check": "all", "value": math.nan, "p_value": math.nan, "meaning": why}]
    return [
        _shape(left),
        _spread(left, fitted.fitted),
        _order(left, order),
        _farthest(left, len(fitted.effects)),
    ]


def _row(check: str, value: float, p: float, what: str, follows: str) -> dict[str, object]:
    said = follows if p < DOUBT else "no departure seen"
    return {"check": check, "value": value, "p_value": p, "meaning": f"{what}; {said}"}


def _shape(left: Floats) -> dict[str, object]:
    p = float(stats.shapiro(left).pvalue)
    what = "skewness, 0 is even"
    return _row(
        "normal shape", float(stats.skew(left)), p, what, "try the response as relative, or look for outliers"
    )


def _spread(left: Floats, fitted: Floats) -> dict[str, object]:
    if np.ptp(fitted) == 0:
        return _row("equal spread", 0.0, 1.0, "all rows are fitted alike", "")
    found = stats.spearmanr(np.abs(left), fitted)
    what = "rank correlation of size and fitted value"
    return _row(
        "equal spread", float(found.statistic), float(found.pvalue), what, "try the response as relative"
    )


def _order(left: Floats, order: Floats) -> dict[str, object]:
    if np.ptp(order) == 0:
        return _row("order", 0.0, 1.0, "no order is told", "")
    found = stats.spearmanr(left, order)
    what = "rank correlation with the order of the work"
    follows = "something drifted: mind which settings came first"
    return _row("order", float(found.statistic), float(found.pvalue), what, follows)


def _farthest(left: Floats, columns: int) -> dict[str, object]:
    """Return the row farthest off, its chance multiplied by the number of rows (Bonferroni)."""
    freedom = max(1, left.size - columns - 1)
    at = int(np.argmax(np.abs(left)))
    rest = np.delete(left, at)
    scale = math.sqrt(float((rest**2).sum()) / freedom) or math.nan
    away = float(left[at]) / scale
    p = min(1.0, 2.0 * left.size * float(stats.t.sf(abs(away), freedom)))
    return _row(
        "farthest row", away, p, f"row {at + 1}, in standard deviations of the others", "look at that sheet"
    )
