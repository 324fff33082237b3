"""Which pulls show the natural spread: the named ones, and those of the edition that agree with them.

Up to half of a pile may be faulty, so the spread cannot be taken from all of it; and three confirming pulls alone
know their spread only to half of itself. The set therefore grows, the nearest pulls first, by those whose deviations
are ordinary for the set so far: a forward search. When a doubtful pull is asked, the good ones have mostly joined and
the spread is well known. A pull is asked in all measures at once, so joining hardly trims any single one of them.

References
----------
.. [1] A. C. Atkinson, M. Riani, Robust Diagnostic Regression Analysis, Springer 2000: the forward search.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.judgement.chance import combined
from proofkit.judgement.fit import Fit, Hand, fit_column, hand_of
from proofkit.judgement.together import Together, together
from proofkit.judgement.values import Values
from proofkit.scatter import OF_MEDIAN

MIN_GOOD = 3
"""Fewest pulls that make a spread. [-]"""

JOINING = 0.05
"""Least chance of being an ordinary pull with which one joins. [-] On simulated editions 0.2 left a tenth of the good
pulls outside, which narrowed the spread and brought more false flags, and found no fault more."""

JOINING_SHARE = 0.2
"""How many join before the spread is taken anew, as a share of those that have joined: nearest first. [-]"""

LEAVING = 0.02
"""One that has joined leaves again below this chance. [-]"""

LEAVING_NAMED = 0.01
"""A named confirming pull leaves below this chance: a person chose it. [-]"""

MOST_ROUNDS = 5

FIRST_LOOKED_AT = {"line_load_um": 5.0, "plate_tone_density": 5.0}
"""Weight of measures in the chance of a sheet; 1 for the others. [-] The sign test of the trade, ink of the lines
against film, comes first; detectors of mishaps are silent or loud and need little."""

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
    joint: dict[str, Together]
    """Distances in groups of measures that move together."""
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


def sheet_chance(fits: dict[str, Fit], joint: dict[str, Together], pulls: int) -> Floats:
    """Return (pulls,) the chance of each sheet being an ordinary pull.

    Groups of measures together, sheet parts one by one and the regions have equal shares, so that a change of the
    whole sheet is not drowned by the number of regions.
    """
    judged = [fit for fit in fits.values() if fit.column.judged.finds]
    if not judged:
        return np.ones(pulls)
    weights = np.array([FIRST_LOOKED_AT.get(fit.column.judged.measure, 1.0) for fit in judged])
    counts = [fit.column.scaled.shape[1] for fit in judged]
    families = [
        (np.hstack([fit.sheet.p for fit in judged]), weights),
        (np.hstack([region_p(fit) for fit in judged]), np.repeat(weights, counts)),
    ]
    if joint:
        families.append((np.column_stack([one.p for one in joint.values()]), np.ones(len(joint))))
    shares = []
    for p, weight in families:
        share = np.where(np.isfinite(p), weight, 0.0)
        shares.append(share / np.maximum(share.sum(axis=1, keepdims=True), 1e-9))
    return combined(np.hstack([p for p, _ in families]), np.hstack(shares))


def fit_all(values: Values, good: Mask, anchor: Mask | None, hand: Hand) -> dict[str, Fit]:
    """Return every measure fitted to the good pulls."""
    return {
        name: fit_column(column, good, values.relay.get(name, 0.0), anchor, hand)
        for name, column in values.columns.items()
    }


def outlyingness(fits: dict[str, Fit], pulls: int) -> Floats:
    """Return (pulls,) how far each pull lies from the good ones in all measures together.

    Mean over measures of the squared deviation of the sheet part and of the mean squared local deviation, in units of
    their spreads, each capped at `OUTLYING_CAP` squared.
    """
    total, count = np.zeros(pulls), np.zeros(pulls)
    for fit in fits.values():
        if not fit.column.judged.finds:
            continue
        for part in (fit.sheet, fit.local):
            z2 = np.minimum((part.deviation / part.spread) ** 2, OUTLYING_CAP**2)
            known = np.isfinite(z2)
            total += np.where(known, z2, 0.0).sum(axis=1) / np.maximum(known.sum(axis=1), 1)
            count += known.any(axis=1)
    return np.asarray(total / np.maximum(count, 1))


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
        scaled = np.minimum(kept / np.maximum(OF_MEDIAN * typical, column.judged.floor), OUTLYING_CAP)
        weight = 1.0 / max(1, kept.shape[1])
        total += weight * np.where(known, scaled, 0.0).sum(axis=1)
        count += weight * known.sum(axis=1)
    distance = np.where(count > 0, total / np.maximum(count, 1e-9), np.inf)
    distance[standard] = -1.0
    chosen = np.zeros(pulls, dtype=bool)
    chosen[np.argsort(distance, kind="stable")[:wanted]] = True
    return chosen


def _agreeing(values: Values, named: Mask, standard: int) -> Mask:
    """Return the named pulls that agree with the other named ones; all of them when too few would be left."""
    fits = fit_all(values, named, None, Hand())
    chance = sheet_chance(fits, together(fits, named), len(named))
    agreeing = named & (chance >= LEAVING_NAMED)
    agreeing[standard] = True
    return agreeing if agreeing.sum() >= MIN_GOOD else named


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
    good = named.copy() if from_confirming else nearest(values, at, min(wanted, pulls))
    held = _agreeing(values, named, at) if from_confirming else None
    if held is not None:
        good &= held
    fits = fit_all(values, good, held, Hand())
    while True:
        joint = together(fits, good)
        chance = sheet_chance(fits, joint, pulls)
        joining = np.flatnonzero(~good & (chance >= JOINING))
        if joining.size == 0:
            break
        nearest_first = joining[np.argsort(outlyingness(fits, pulls)[joining], kind="stable")]
        good[nearest_first[: max(1, int(JOINING_SHARE * good.sum()))]] = True
        fits = fit_all(values, good, held, hand_of(fits))
    for _ in range(MOST_ROUNDS):
        staying = good & (chance >= np.where(named, LEAVING_NAMED, LEAVING))
        staying[at] = True
        if staying.sum() < MIN_GOOD or (staying == good).all():
            break
        good = staying
        fits = fit_all(values, good, held, hand_of(fits))
        joint = together(fits, good)
        chance = sheet_chance(fits, joint, pulls)
    left = tuple(
        pull
        for pull, is_named, is_good in zip(values.pulls, named, good, strict=True)
        if is_named and not is_good
    )
    return GoodPulls(good, fits, joint, chance, from_confirming, left)
