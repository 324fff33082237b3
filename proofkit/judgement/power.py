"""The smallest change of each kind that this edition would flag nine times in ten.

Good pulls of the edition itself are taken one by one, a change is added to one measure, and the same tests and limits
are applied as to the pile. So the figure holds for this hand, these regions and this number of pulls.
"""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from proofkit.arrays import Floats, Mask
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE, adjusted, p_values
from proofkit.judgement.findings import JOINT_WORTH, SHEET_RATE
from proofkit.judgement.fit import Fit
from proofkit.judgement.good_pulls import GoodPulls, region_p, sheet_chance
from proofkit.judgement.parts import Part
from proofkit.judgement.scales import Judged, is_worth_a_look
from proofkit.judgement.together import Together, distance_of_scores, normal_scores
from proofkit.judgement.values import SHEET

POWER_COLUMNS = ("measure", "place", "smallest", "unit", "draws")

WANTED = 0.9
"""Share of changed pulls that has to be flagged. [-]"""

KINDS = (
    "line_load_um",
    "fine_against_broad",
    "line_core_density",
    "plate_tone_density",
    "film_ramp_x_density",
    "film_patch_density",
    "streak_density",
    "gaps_against_film",
    "halo_density",
    "load_ramp_x_fraction",
    "line_continuity_fraction",
    "dark_specks_per_cm2",
    "bevel_density",
    "doubling_fraction",
    "crease_mm",
    "ink_b",
    "paper_density",
)
"""Measures of which the smallest change is told."""

LEAST, MOST = 0.25, 32.0
"""Changes that are tried, in units of the smallest difference that matters. [-]"""

MIN_ROWS = 3
"""Fewest good pulls besides the standard that can be changed. [-]"""

HALVINGS = 6
"""Bisections on the logarithm of the change: to within eight per cent of it, finer than it is known from so few pulls.
[-]"""

UNITS = {"log": "%", "share": "-", "root": "", "linear": ""}


@dataclass(frozen=True, slots=True, eq=False)
class _Setting:
    """What a changed pull has to pass."""

    good: GoodPulls
    rows: tuple[int, ...]
    """Good pulls that are changed, one at a time."""
    finding_p: float
    """Largest p-value of one test at which a finding is called."""
    sheet_p: float
    """Largest chance of a sheet at which it is flagged."""


def _threshold(p: Floats, rate: float) -> float:
    """Return the largest p-value that would be called if one more test were: Benjamini and Hochberg's step."""
    known = p[np.isfinite(p)]
    called = int((adjusted(known) <= rate).sum()) if known.size else 0
    return rate * (called + 1) / max(known.size, 1)


def _setting(good: GoodPulls, standard: int) -> _Setting:
    tests: list[Floats] = []
    for fit in good.fits.values():
        if not fit.column.judged.finds:
            continue
        tests.append(fit.sheet.p.ravel())
        if fit.column.regions != (SHEET,):
            tests.append(region_p(fit).ravel())
    tests += [joint.p for joint in good.joint.values()]
    others = np.arange(good.good.size) != standard
    return _Setting(
        good,
        tuple(int(k) for k in np.flatnonzero(good.good & others)),
        _threshold(np.concatenate(tests), FALSE_DISCOVERY_RATE),
        _threshold(good.sheet_p[others], SHEET_RATE),
    )


def _moved(part: Part, shift: Floats, judged: Judged) -> Part:
    """Return a part with `shift` (pulls, n) added to its deviations."""
    deviation = part.deviation + shift
    p = p_values(deviation / part.spread, np.maximum(part.freedom, 1.0), judged.sides)
    return replace(part, deviation=deviation, p=p)


def _changed(fit: Fit, size: float, region: int | None) -> Fit:
    """Return a fit in which every pull is changed by `size` on the scale, everywhere or in one region."""
    judged, shape = fit.column.judged, fit.total.deviation.shape
    if fit.column.regions == (SHEET,):
        part = _moved(fit.sheet, np.full(shape, size), judged)
        return replace(fit, sheet=part, total=part)
    if region is None:
        everywhere = np.full(shape, size)
        return replace(
            fit,
            sheet=_moved(fit.sheet, everywhere[:, :1], judged),
            total=_moved(fit.total, everywhere, judged),
        )
    shift = np.zeros(shape)
    shift[:, region] = size
    local = fit.local
    if np.isfinite(local.p).any():
        local = _moved(local, shift, judged)
    return replace(fit, total=_moved(fit.total, shift, judged), local=local)


def _worth(fit: Fit, deviation: Floats, centre: float) -> Mask:
    natural = fit.column.natural(centre + deviation)
    return is_worth_a_look(fit.column.judged, natural, fit.column.natural(np.asarray(centre)))


def _share_flagged(setting: _Setting, name: str, size: float, region: int | None) -> float:
    """Return the share of good pulls that are flagged with this change."""
    good, rows = setting.good, list(setting.rows)
    fit = _changed(good.fits[name], size, region)
    fits = good.fits | {name: fit}
    joint = {group: _joint_changed(one, name, fit) for group, one in good.joint.items()}
    p = sheet_chance(fits, joint, good.good.size)[rows]
    middle = float(np.nanmedian(fit.centre))
    if region is None:
        called = (fit.sheet.p[rows, 0] <= setting.finding_p) & _worth(
            fit, fit.sheet.deviation[rows, 0], middle
        )
    else:
        own = region_p(fit) if len(fit.column.regions) > 1 else fit.total.p
        deviation = fit.total.deviation[rows, region]
        called = (own[rows, region] <= setting.finding_p) & _worth(fit, deviation, float(fit.centre[region]))
    for one in joint.values():
        if name in one.names:
            half = np.abs(fit.sheet.deviation[rows, 0]) >= JOINT_WORTH * _matters_on_scale(fit)
            called |= (one.p[rows] <= setting.finding_p) & half
    return float((called & (p <= setting.sheet_p)).mean())


def _joint_changed(joint: Together, name: str, fit: Fit) -> Together:
    if name not in joint.names:
        return joint
    scores = joint.scores.copy()
    scores[:, joint.names.index(name)] = normal_scores(fit)
    return distance_of_scores(joint, scores)


def _matters_on_scale(fit: Fit) -> float:
    """Return the smallest difference that matters as a step on the scale, at the centre."""
    judged = fit.column.judged
    if judged.scale == "log":
        return float(np.log1p(judged.matters))
    if judged.scale == "linear":
        return judged.matters
    middle = float(np.nanmedian(fit.centre))
    natural = float(fit.column.natural(np.array(middle)))
    step = 1e-3
    rise = (float(fit.column.natural(np.array(middle + step))) - natural) / step
    least = np.sqrt(judged.matters) if judged.scale == "root" else np.arcsin(np.sqrt(judged.matters))
    return float(min(judged.matters / max(rise, 1e-9), least))


def _smallest(setting: _Setting, name: str, region: int | None) -> float:
    """Return the smallest change on the scale, NaN when none of those tried is flagged often enough."""
    fit = setting.good.fits[name]
    signs = {"both": (1.0, -1.0), "upper": (1.0,), "lower": (-1.0,)}[fit.column.judged.sides]
    matters = _matters_on_scale(fit)

    def share(times: float) -> float:
        return float(
            np.mean([_share_flagged(setting, name, sign * times * matters, region) for sign in signs])
        )

    low, high = np.log(LEAST), np.log(MOST)
    if share(MOST) < WANTED:
        return float("nan")
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (low, middle) if share(float(np.exp(middle))) >= WANTED else (middle, high)
    return float(np.exp(high)) * matters


def _natural(fit: Fit, size: float) -> float:
    """Return a change on the scale as people tell it: a share of the value, or in the unit of the measure."""
    judged = fit.column.judged
    if judged.scale == "log":
        return float(np.expm1(size))
    middle = float(np.nanmedian(fit.centre))
    sign = -1.0 if judged.sides == "lower" else 1.0
    here, there = (float(fit.column.natural(np.array(at))) for at in (middle, middle + sign * size))
    return abs(there - here)


def power_table(good: GoodPulls, standard: int) -> pd.DataFrame:
    """Return the smallest change of each kind that is flagged nine times in ten.

    Parameters
    ----------
    good : GoodPulls
    standard : int
        Index of the standard, which is not changed.

    Returns
    -------
    pandas.DataFrame
        Columns `POWER_COLUMNS`: `place` is `sheet` for a change of the whole sheet, else the region whose spread is the
        median one; `smallest` is NaN where nothing that was tried is flagged so often; `unit` is `%` for a share of
        the value (then `smallest` is a fraction); `draws` is how many good pulls were changed, each in the
        directions that count. Empty with fewer than three good pulls.
    """
    setting = _setting(good, standard)
    rows: list[dict[str, object]] = []
    if len(setting.rows) < MIN_ROWS:
        return pd.DataFrame(rows, columns=list(POWER_COLUMNS))
    for name in KINDS:
        fit = good.fits.get(name)
        if fit is None or not fit.column.judged.finds or not np.isfinite(fit.centre).any():
            continue
        places: list[int | None] = [None]
        if fit.column.regions != (SHEET,) and len(fit.column.regions) > 1:
            known = np.flatnonzero(np.isfinite(fit.total.good_spread))
            places.append(int(known[np.argsort(fit.total.good_spread[known])[known.size // 2]]))
        for region in places:
            rows.append(
                {
                    "measure": name,
                    "place": SHEET if region is None else fit.column.regions[region],
                    "smallest": _natural(fit, _smallest(setting, name, region)),
                    "unit": UNITS[fit.column.judged.scale],
                    "draws": len(setting.rows),
                }
            )
    return pd.DataFrame(rows, columns=list(POWER_COLUMNS))
