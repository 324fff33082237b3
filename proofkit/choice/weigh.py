"""Lay trial proofs beside each other: wishes, trade-offs, repeatability and differences."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from proofkit.arrays import Floats
from proofkit.choice.desirability import overall
from proofkit.choice.differences import differences
from proofkit.choice.recipes import candidates_of, recipe_of, recipe_words, same_recipe
from proofkit.choice.repeatability import FEWEST_PULLS, Repeat, repeat
from proofkit.choice.spreads import Readings, readings
from proofkit.choice.trade_offs import lead_shares, leaders, surpassed_by
from proofkit.choice.types import Choice, Granted
from proofkit.choice.words import aim_of, granted, range_of
from proofkit.columns import CHOICE_CANDIDATES, CHOICE_WISHES, make_table
from proofkit.edition import MeasuredEdition
from proofkit.errors import FolderError
from proofkit.folder.wishes import Wish
from proofkit.judgement.scales import BY_NAME
from proofkit.wording import listed, pulls_listed

FEWEST_CANDIDATES = 2


def weigh_candidates(measured: MeasuredEdition) -> Choice:
    """Return the candidates of a measured edition beside each other.

    Raises
    ------
    FolderError
        If fewer than two candidates could be measured.
    """
    named, remarks = candidates_of(measured.edition)
    candidates = tuple(pull for pull in named if pull not in measured.failures)
    if len(candidates) < FEWEST_CANDIDATES:
        raise FolderError(
            f"There {'is 1 candidate' if candidates else 'is no candidate'} that could be measured; a choice needs at "
            f"least {FEWEST_CANDIDATES} trial proofs of one state. Scan more, or name candidates in edition.toml."
        )
    pulls = measured.edition.pulls
    by_name = {pull.pull: pull for pull in pulls}
    read = [pull for pull in pulls if pull.pull not in measured.failures]
    others = {pull: same_recipe(by_name[pull], read) for pull in candidates}
    groups = sorted({tuple(sorted((pull, *same))) for pull, same in others.items() if same})
    wishes = tuple(_granted(measured.measurements, candidates, wish) for wish in measured.edition.wishes)
    all_readings = readings(measured.measurements)
    wanted = _wanted(all_readings, wishes)
    repeats = {
        pull: repeat(pull, others[pull], wanted, groups, measured.edition.tolerances) for pull in candidates
    }
    remarks += _remarks(measured, wishes, others)
    return Choice(
        candidates=candidates,
        wishes=wishes,
        table=_candidates_table(measured, candidates, wishes, others, repeats),
        granted=_wishes_table(candidates, wishes),
        differences=differences(candidates, all_readings, groups),
        remarks=tuple(remarks),
    )


def _granted(measurements: pd.DataFrame, candidates: Sequence[str], wish: Wish) -> Granted:
    aim = aim_of(wish)
    rows = measurements.loc[measurements["region"] == wish.region]
    values, u = (_column(rows, name, candidates) for name in (aim.measure, f"u_{aim.measure}"))
    limits = range_of(aim, values)
    reach = 2 * np.nan_to_num(u)
    ends = np.stack([granted(aim, values + sign * reach, limits) for sign in (-1, 0, 1)])
    return Granted(
        wish, aim, limits, values, u, granted(aim, values, limits), ends.min(axis=0), ends.max(axis=0)
    )


def _column(rows: pd.DataFrame, name: str, pulls: Sequence[str]) -> Floats:
    means = rows.groupby("pull")[name].mean() if name in rows.columns else pd.Series(dtype=np.float64)
    return means.reindex(list(pulls)).to_numpy(dtype=np.float64)


def _wanted(all_readings: Sequence[Readings], wishes: Sequence[Granted]) -> list[Readings]:
    """Return the readings that the wishes are about; without wishes, all."""
    asked = {(one.wish.region, one.aim.measure) for one in wishes}
    return [
        reading for reading in all_readings if not asked or (reading.region, reading.judged.measure) in asked
    ]


def _matrix(candidates: Sequence[str], wishes: Sequence[Granted]) -> Floats:
    return np.stack([one.granted for one in wishes], axis=1) if wishes else np.empty((len(candidates), 0))


def _candidates_table(
    measured: MeasuredEdition,
    candidates: Sequence[str],
    wishes: Sequence[Granted],
    others: dict[str, tuple[str, ...]],
    repeats: dict[str, Repeat],
) -> pd.DataFrame:
    matrix = _matrix(candidates, wishes)
    weights = [one.wish.weight for one in wishes]
    means = overall(matrix, weights) if wishes else np.full(len(candidates), np.nan)
    leads = lead_shares(matrix, weights) if wishes else np.full(len(candidates), np.nan)
    surpassed = surpassed_by(matrix) if wishes else [[] for _ in candidates]
    first_in = leaders(matrix)
    recipes = {pull.pull: recipe_words(recipe_of(pull)) for pull in measured.edition.pulls}
    rows: list[dict[str, object]] = []
    for k, pull in enumerate(candidates):
        again = repeats[pull]
        rows.append(
            {
                "pull": pull,
                "recipe": recipes[pull],
                "confirming": "; ".join(others[pull]),
                "first_in": "; ".join(
                    _label(one)
                    for one, best in zip(wishes, first_in, strict=True)
                    if k in best and len(best) < len(candidates)
                ),
                "surpassed_by": "; ".join(candidates[other] for other in surpassed[k]),
                "overall_granted": float(means[k]),
                "leads_fraction": float(leads[k]),
                "distance_spreads": again.distance,
                "farthest_in": again.farthest,
                "inside_fraction": again.inside_fraction,
                "weakest_in": again.weakest,
                "weakest_fraction": again.weakest_fraction,
            }
        )
    return make_table(rows, CHOICE_CANDIDATES)


def _label(one: Granted) -> str:
    return f"{one.wish.region}: {one.wish.want or one.aim.measure}"


def _wishes_table(candidates: Sequence[str], wishes: Sequence[Granted]) -> pd.DataFrame:
    rows: list[dict[str, object]] = [
        {
            "pull": pull,
            "region": one.wish.region,
            "wish": one.wish.want or f"{one.aim.wanted} {one.aim.measure}",
            "measure": one.aim.measure,
            "weight": one.wish.weight,
            "value": float(one.measured[k]),
            "u_value": float(one.uncertainties[k]),
            "granted": float(one.granted[k]),
            "granted_low": float(one.low[k]),
            "granted_high": float(one.high[k]),
        }
        for one in wishes
        for k, pull in enumerate(candidates)
    ]
    return make_table(rows, CHOICE_WISHES)


def _on_scales(wishes: Sequence[Granted], standard: str) -> list[str]:
    """Return what the scales of wishes are, each sentence once for all wishes that it is true of."""
    remarks, without, against = [], [], []
    for one in wishes:
        if not np.isfinite(one.granted).any():
            remarks.append(
                f"The wish '{_label(one)}' cannot be told: {one.aim.measure} was measured on none of the candidates."
            )
        elif one.aim.best is None:
            without.append(f"'{_label(one)}'")
        elif one.aim.measure in BY_NAME and BY_NAME[one.aim.measure].against_standard:
            against.append(f"'{_label(one)}'")
    if without:
        have, goes = ("has", "goes") if len(without) == 1 else ("have", "go")
        own, it = ("its own", "it") if len(without) == 1 else ("their own", "they")
        remarks.append(
            f"{listed(without)} {have} no scale of {own}: {it} {goes} from the candidate that has least of what is "
            "wished to the one that has most."
        )
    if against:
        are = "is" if len(against) == 1 else "are"
        remarks.append(
            f"{listed(against)} {are} told against pull {standard}, which serves as standard here."
        )
    return remarks


def _remarks(
    measured: MeasuredEdition, wishes: Sequence[Granted], others: dict[str, tuple[str, ...]]
) -> list[str]:
    remarks = []
    if not wishes:
        remarks.append(
            "edition.toml has no [wishes]: the proofs are compared, but nothing is said of what is wanted."
        )
    remarks += _on_scales(wishes, measured.standard)
    lonely = [pull for pull, same in others.items() if len(same) < FEWEST_PULLS]
    if lonely:
        remarks.append(
            f"How well {pulls_listed(lonely)} {'repeats' if len(lonely) == 1 else 'repeat'} is not known: at least "
            f"{FEWEST_PULLS} more pulls of its "
            "recipe (paper, dampening, ink, wiping and pressure alike in pulls.csv) are needed, better three."
        )
    few = sorted({len(same) for same in others.values() if len(same) >= FEWEST_PULLS})
    if few and few[0] < 5:
        span = f"{few[0]} to {few[-1]}" if len(few) > 1 else f"{few[0]}"
        remarks.append(
            f"Spreads rest on {span} confirming pulls, steadied by what is usual; three pulls "
            "alone tell a spread to half of itself."
        )
    if not measured.edition.tolerances:
        remarks.append(
            "No [tolerances] are set: inside means closer than the smallest difference worth a look in each measure."
        )
    return remarks
