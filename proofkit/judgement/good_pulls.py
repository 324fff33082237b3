"""Which pulls show the natural spread: the named ones, and those of the edition that agree with them.

Up to half of a pile may be faulty, so the spread cannot be taken from all of it; and three confirming pulls alone
know their spread only to half of itself. The set therefore grows from the pulls nearest to the standard: pull after
pull joins whose deviations are ordinary for the set so far. A pull is asked in all measures at once, so joining
hardly trims any single one of them.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.judgement.chance import simes
from proofkit.judgement.fit import Fit, fit_column
from proofkit.judgement.values import Values

MIN_GOOD = 3
"""Fewest pulls that make a spread. [-]"""

JOINING = (0.5, 0.2, 0.05, 0.01)
"""Chance a pull must have of being an ordinary one, round by round: the surest join first. [-]"""

LEAVING = 0.001
"""A named confirming pull with less chance than this leaves the set again. [-]"""

MOST_ROUNDS = 12

SEED_SHARE = 0.4
"""Share of the edition that starts the set when there are no confirming pulls: under half, as half may be faulty."""

OUTLYING_CAP = 6.0
"""Robust deviations above this count as this, so that one wild measure does not decide. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class GoodPulls:
    """The pulls that show the natural spread, with every measure fitted to them."""

    good: Mask
    """(pulls,)"""
    fits: dict[str, Fit]
    """By measure."""
    sheet_p: Floats
    """(pulls,) chance of each pull being an ordinary one."""
    from_confirming: bool
    """True when named confirming pulls started the set."""
    left: tuple[str, ...]
    """Confirming pulls that do not agree with the others."""


def region_p(fit: Fit) -> Floats:
    """Return (pulls, regions) p-values of the regions: the better of two looks, doubled for having two."""
    if fit.column.scaled.shape[1] == 1:
        return np.full(fit.total.p.shape, np.nan)
    both = np.stack((fit.total.p, fit.local.p))
    looks = np.isfinite(both).sum(axis=0)
    least = np.where(looks > 0, np.nanmin(np.where(np.isfinite(both), both, 2.0), axis=0), np.nan)
    return np.asarray(np.minimum(least * looks, 1.0))


def sheet_chance(fits: dict[str, Fit], pulls: int) -> Floats:
    """Return (pulls,) the chance of each sheet being an ordinary pull.

    The sheet parts and the regions are asked separately and the better answer is doubled, so that a change of the
    whole sheet is not drowned by the number of regions.
    """
    judged = [fit for fit in fits.values() if fit.column.judged.finds]
    result = np.ones(pulls)
    for index in range(pulls):
        whole = simes(np.concatenate([fit.sheet.p[index] for fit in judged])) if judged else 1.0
        parts = simes(np.concatenate([region_p(fit)[index] for fit in judged])) if judged else 1.0
        result[index] = min(1.0, 2.0 * min(whole, parts))
    return result


def fit_all(values: Values, good: Mask) -> dict[str, Fit]:
    """Return every measure fitted to the good pulls."""
    return {
        name: fit_column(column, good, values.relay.get(name, 0.0)) for name, column in values.columns.items()
    }


def nearest(values: Values, standard: int, wanted: int) -> Mask:
    """Return the `wanted` pulls nearest to the standard, itself among them.

    The distance is the mean over measures and regions of the deviation from the standard in units of the edition's
    median absolute deviation (but not less than the floor), each capped at `OUTLYING_CAP`.
    """
    pulls = len(values.pulls)
    total, count = np.zeros(pulls), np.zeros(pulls)
    for column in values.columns.values():
        if not column.judged.finds:
            continue
        origin = 0.0 if column.judged.against_standard else column.scaled[standard]
        away = np.abs(column.scaled - origin)
        known = np.isfinite(away)
        kept = np.where(known, away, 0.0)
        typical = np.array(
            [np.median(kept[known[:, j], j]) if known[:, j].any() else 0.0 for j in range(kept.shape[1])]
        )
        scaled = np.minimum(kept / np.maximum(1.4826 * typical, column.judged.floor), OUTLYING_CAP)
        weight = 1.0 / max(1, kept.shape[1])
        total += weight * np.where(known, scaled, 0.0).sum(axis=1)
        count += weight * known.sum(axis=1)
    distance = np.where(count > 0, total / np.maximum(count, 1e-9), np.inf)
    distance[standard] = -1.0
    chosen = np.zeros(pulls, dtype=bool)
    chosen[np.argsort(distance, kind="stable")[:wanted]] = True
    return chosen


def grow(values: Values, standard: str, confirming: tuple[str, ...]) -> GoodPulls:
    """Return the set of good pulls and the fits of all measures to it.

    Parameters
    ----------
    values : Values
    standard : str
        One of the pulls.
    confirming : tuple of str
        Pulls named as confirming; with the standard they start the set when there are at least `MIN_GOOD`.

    Returns
    -------
    GoodPulls
    """
    pulls = len(values.pulls)
    named = np.array([pull == standard or pull in confirming for pull in values.pulls], dtype=bool)
    from_confirming = bool(named.sum() >= MIN_GOOD)
    at = values.pulls.index(standard)
    wanted = max(MIN_GOOD, int(np.ceil(SEED_SHARE * pulls)))
    seed = named if from_confirming else nearest(values, at, min(wanted, pulls))
    good = seed.copy()
    fits = fit_all(values, good)
    chance = sheet_chance(fits, pulls)
    rounds = list(JOINING) + [JOINING[-1]] * (MOST_ROUNDS - len(JOINING))
    for number, limit in enumerate(rounds):
        joined = (chance >= limit) | (named & (chance >= LEAVING)) | (seed & (number < len(JOINING) - 1))
        joined[at] = True
        if joined.sum() < MIN_GOOD:
            break
        same = bool((joined == good).all())
        good = joined
        fits = fit_all(values, good)
        chance = sheet_chance(fits, pulls)
        if same and number >= len(JOINING) - 1:
            break
    left = tuple(
        pull
        for pull, is_named, is_good in zip(values.pulls, named, good, strict=True)
        if is_named and not is_good
    )
    return GoodPulls(good, fits, chance, from_confirming, left)
