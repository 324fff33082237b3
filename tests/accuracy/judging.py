"""Judgement alone, on tables of editions as the small press of the judgement tests makes them.

A usual hand varies by 3 % in ink, 3 % in width and 0.010 D in the film from pull to pull. Piles of thirty hold each
fault once, in shuffled order, and twelve sound pulls besides the confirming ones; half of the plates are wiped clean.
"""

from __future__ import annotations

import numpy as np

from proofkit.judgement.judge import judge
from tests.accuracy.neighbours import is_right
from tests.accuracy.rows import Row
from tests.judgement.press import FAULTS, Course, print_edition, verdicts

PILES = 8
FIRST_SEED = 400
FILMS = (0.06, 0.006)
CONFIRMING = 3
FIRST = CONFIRMING + 2
"""Number of the first pull that may be faulty."""

BARS = {1.0: (97.0, 90.0), 0.6: (85.0, 75.0)}
"""Strength of the faults -> least share found, least share named rightly or by an honest neighbour. [%]"""

MOST_FALSE = 2.0
COURSES = 8


def _share(hits: list[bool]) -> float:
    return 100 * float(np.mean(hits)) if hits else float("nan")


def _piles(strength: float, notes: list[str]) -> tuple[list[Row], list[bool]]:
    found: list[bool] = []
    named: list[bool] = []
    false: list[bool] = []
    for pile in range(PILES):
        seed = FIRST_SEED + pile
        plan = [*FAULTS, *[None] * 12]
        np.random.default_rng(seed).shuffle(plan)
        measured = print_edition(
            plan, seed=seed, film=FILMS[pile % 2], confirming=CONFIRMING, strength=strength
        )
        given = verdicts(judge(measured))
        for number, fault in enumerate(plan, start=FIRST):
            verdict, causes = given[str(number)]
            if fault is None:
                false.append(verdict != "matches")
                continue
            found.append(verdict == "look again")
            named.append(found[-1] and bool(causes) and is_right(causes[0], fault))
            if not named[-1]:
                notes.append(f"seed {seed}, strength {strength:g}: {fault} -> {verdict} {'; '.join(causes)}")
    label = f"faults at {strength:.0%} of their strength"
    least_found, least_named = BARS[strength]
    return [
        Row(f"{label}: found", _share(found), "%", least_found, ">=", len(found)),
        Row(f"{label}: cause first right or neighbour", _share(named), "%", least_named, ">=", len(named)),
    ], false


def _sound() -> list[bool]:
    false: list[bool] = []
    for pile in range(PILES):
        given = verdicts(judge(print_edition([None] * 26, seed=FIRST_SEED + 50 + pile, film=FILMS[pile % 2])))
        false += [verdict == "look again" for verdict, _ in given.values()]
    return false


def _wear(seed: int) -> bool:
    given = judge(print_edition([None] * 36, seed=seed, course=Course(wear=0.2)))
    last = verdicts(given)["40"]
    return last[0] == "look again" and last[1][:1] == ("plate wear",)


def _batch(seed: int, *, is_grey: bool) -> bool:
    first = 20 + seed % 14
    judged = judge(print_edition([None] * 36, seed=seed, course=Course(batch_at=first, is_grey=is_grey)))
    steps = judged.courses.loc[
        judged.courses["measure"].isin(["ink_a", "ink_b", "line_core_density"]), "from_pull"
    ]
    return any(abs(int(pull) - 1 - first) <= 1 for text in steps for pull in text.split(", ") if pull)


def _drift(seed: int) -> bool:
    """Return whether wiping that drifts and begins anew is left without any word of wear."""
    course = Course(film_per_pull=0.004, reset_every=10, is_noted=seed % 2 == 0)
    judged = judge(print_edition([None] * 36, seed=seed, course=course))
    named = {cause for _, causes in verdicts(judged).values() for cause in causes}
    return "plate wear" not in named and not any("wearing" in remark for remark in judged.remarks)


def judging_rows() -> tuple[list[Row], list[str]]:
    """Return the rows on judgement, and what was missed or misnamed."""
    notes: list[str] = []
    rows: list[Row] = []
    false: list[bool] = []
    for strength in BARS:
        own, own_false = _piles(strength, notes)
        rows += own
        false += own_false
    rows.append(
        Row("sound pulls among faulty ones flagged", _share(false), "%", MOST_FALSE, "<=", len(false))
    )
    sound = _sound()
    rows.append(Row("pulls of sound editions flagged", _share(sound), "%", MOST_FALSE, "<=", len(sound)))
    seeds = range(FIRST_SEED + 100, FIRST_SEED + 100 + COURSES)
    worn = [_wear(seed) for seed in seeds]
    rows.append(Row("wear of 0.5 % at each of 40 pulls named", _share(worn), "%", 90.0, ">=", len(worn)))
    for is_grey in (False, True):
        label = "grey" if is_grey else "colour"
        stepped = [_batch(seed, is_grey=is_grey) for seed in seeds]
        rows.append(
            Row(f"batch at its pull ± 1, {label} scans", _share(stepped), "%", 90.0, ">=", len(stepped))
        )
    drifted = [_drift(seed) for seed in seeds]
    rows.append(
        Row("drift that begins anew not called wear", _share(drifted), "%", 100.0, ">=", len(drifted))
    )
    return rows, notes
