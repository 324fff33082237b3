"""Weigh the causes of `causes.toml` against the readings of a sheet."""

import itertools
import math
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import get_args

from proofkit.columns import CAUSES
from proofkit.judgement.likelihood import MOST_WEIGHT, Sign, chances, likelihood_ratio

TWO_FAULTS_COST = 3.5
"""How much better two causes together must explain a sheet than one alone, when both are of ink, wiping, paper or
pressure: odds of 33 to 1. Such faults share their symptoms, so a pair of them fits almost any sheet."""

MISHAP_COST = 2.2
"""The same when one of them is a mishap that comes by itself: odds of 9 to 1. Common practice, about one faulty sheet
in nine has a mishap besides."""

MISHAPS = frozenset({"doubled", "crease", "specks", "bevel ink", "wipe streaks", "set-off", "scan"})

LOOKED_AT_FIRST = ("scan", "doubled", "crease")
"""Of two causes together one of these is named first: scan and geometry are looked at before ink and wiping are argued
from measures that they change as well."""

AGAINST_ALLOWED = 2.0
"""A sheet that was flagged has some cause: one that explains a symptom is named although what it should also change
stays within its spread, unless that speaks against it by odds of more than 7 to 1 (natural logarithm of 7)."""

TIE = 1.1
"""Causes closer than this cannot be told apart: odds under 3 to 1 (natural logarithm of 3)."""

WORTH_NAMING = 2.5
"""Causes farther behind the first than this are not named: odds over 12 to 1."""

MOST_NAMED = 3
"""Causes named when the first can be told from the others. [-]"""

MOST_TIED = 4
"""Causes named when they cannot be told apart. [-]"""

PLACE = frozenset({"whole_sheet"})
"""Symptoms that are where and not what: no cause is spoken against by them unless its row names them."""


@dataclass(frozen=True, slots=True)
class SymptomWords:
    """How a symptom is weighed and told."""

    weight: float
    show: str
    higher: str
    lower: str
    unchanged: str


@dataclass(frozen=True, slots=True)
class CauseTable:
    """The table of causes as read from `causes.toml`."""

    symptoms: dict[str, SymptomWords]
    causes: dict[str, dict[str, Sign]]
    """Cause -> symptom -> expected sign."""


@dataclass(frozen=True, slots=True)
class Seen:
    """What was seen of a sheet."""

    levels: dict[str, int]
    """Symptom -> reading, -2 to 2; a symptom that was not seen is missing."""
    cannot_fall: frozenset[str] = frozenset()
    """Symptoms that are at their floor on the standard: unchanged, they say nothing of a cause that lowers them."""
    spreads: dict[str, float] = field(default_factory=dict)
    """Symptom -> reading in standard deviations, where it has a number."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """One cause, or two together, with how well they explain a sheet."""

    causes: tuple[str, ...]
    score: float
    """Logarithm of how much likelier the readings are with the cause than on a good pull. [-]"""


@cache
def cause_table() -> CauseTable:
    """Return the table of causes.

    Raises
    ------
    ValueError
        If the file names an unknown cause, symptom or sign: a slip in the program's own data.
    """
    text = resources.files("proofkit.judgement").joinpath("causes.toml").read_text(encoding="utf-8")
    data = tomllib.loads(text)
    symptoms = {
        name: SymptomWords(
            float(row["weight"]),
            str(row["show"]),
            str(row["higher"]),
            str(row.get("lower", "")),
            str(row["unchanged"]),
        )
        for name, row in data["symptoms"].items()
    }
    signs = set(get_args(Sign))
    for cause, expected in data["causes"].items():
        unknown = [name for name in expected if name not in symptoms]
        wrong = [sign for sign in expected.values() if sign not in signs]
        if cause not in CAUSES or unknown or wrong:
            raise ValueError(f"causes.toml: {cause}: unknown {unknown or wrong or 'cause'}")
    return CauseTable(symptoms, data["causes"])


def _joint(first: Sign, second: Sign) -> Sign:
    """Return what two causes together do to one symptom: the stronger has its way, opposite ones may do anything."""
    strength = {"=": 0, "~": 1, "-=": 2, "+=": 2, "+-": 3, "-": 3, "+": 3, "--": 4, "++": 4, "!+": 5}
    if {first[0], second[0]} == {"+", "-"}:
        return "~"
    return first if strength[first] >= strength[second] else second


def weight_of(symptom: str, sign: Sign, seen: Seen, table: CauseTable) -> float:
    """Return how much likelier one reading is with `sign` expected than on a good pull, as a weighted logarithm.

    0 where nothing was seen, and where a fall is expected of what cannot fall.
    """
    level = seen.levels.get(symptom)
    if level is None or (level == 0 and sign[0] == "-" and symptom in seen.cannot_fall):
        return 0.0
    z = seen.spreads.get(symptom)
    # The fault itself has to be clear, so its reading is taken in steps.
    if z is None or sign == "!+":
        ratio = chances(sign)[level + 2] / chances("=")[level + 2]
    else:
        ratio = likelihood_ratio(z, sign)
    return table.symptoms[symptom].weight * min(math.log(ratio), MOST_WEIGHT)


def explains(expected: dict[str, Sign], seen: Seen, table: CauseTable) -> float:
    """Return how much likelier the readings are with these expected signs than on a good pull, as a logarithm."""
    return sum(weight_of(symptom, sign, seen, table) for symptom, sign in expected.items())


def _shows(expected: dict[str, Sign], seen: Seen, table: CauseTable) -> bool:
    """Return whether any reading moved as a cause has it; where a fault lies is not enough."""
    return any(
        sign != "~"
        and name not in PLACE
        and (seen.levels.get(name, 0) or abs(seen.spreads.get(name, 0.0)) >= 1)
        and weight_of(name, sign, seen, table) > 0
        for name, sign in expected.items()
    )


def _best_pair(single: list[Weighed], seen: Seen, table: CauseTable) -> Weighed | None:
    """Return the two causes that explain the readings best together, in the order in which they are looked at."""
    pairs = []
    ordered = sorted((one.causes[0] for one in single), key=lambda cause: cause not in LOOKED_AT_FIRST)
    for first, second in itertools.combinations(ordered, 2):
        one, other = table.causes[first], table.causes[second]
        joint = {name: _joint(one.get(name, "="), other.get(name, "=")) for name in one | other}
        cost = MISHAP_COST if MISHAPS & {first, second} else TWO_FAULTS_COST
        pairs.append(Weighed((first, second), explains(joint, seen, table) - cost))
    return max(pairs, key=lambda pair: pair.score, default=None)


def weigh(seen: Seen, table: CauseTable, *, possible: frozenset[str] | None = None) -> tuple[Weighed, ...]:
    """Rank the causes by how well they explain the readings.

    Parameters
    ----------
    seen : Seen
    table : CauseTable
    possible : frozenset of str, optional
        Causes that this edition can have; all when not given.

    Returns
    -------
    tuple of Weighed
        Best first. The first may be two causes together, when they explain the sheet far better than either alone;
        the rest are single causes. Causes that explain nothing, or are spoken against, are left out.
    """
    weighed = [
        Weighed((cause,), explains(signs, seen, table))
        for cause, signs in table.causes.items()
        if (possible is None or cause in possible) and _shows(signs, seen, table)
    ]
    single = sorted((one for one in weighed if one.score > -AGAINST_ALLOWED), key=lambda one: -one.score)
    pair = _best_pair(single, seen, table)
    if pair is not None and pair.score > single[0].score:
        return (pair, *(one for one in single if one.causes[0] not in pair.causes))
    return tuple(single)


def named(ranked: tuple[Weighed, ...]) -> tuple[tuple[str, ...], bool]:
    """Return the causes worth naming, in order, and whether the first few cannot be told apart.

    After two causes together no runner-up is named: alternatives to a pair are not weighed.
    """
    if not ranked:
        return (), True
    first = ranked[0]
    if len(first.causes) > 1:
        return first.causes, False
    close = [one for one in ranked if first.score - one.score <= WORTH_NAMING and len(one.causes) == 1]
    tied = sum(first.score - one.score < TIE for one in close)
    return tuple(one.causes[0] for one in close[: max(MOST_NAMED, min(tied, MOST_TIED))]), tied > 1


def evidence(cause: str, seen: Seen, table: CauseTable) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the symptoms that speak for and against a cause, strongest first.

    For speaks what the cause should change and has changed, then what its row expressly says stays (`=`) and has
    stayed. Against speaks what should have changed and has not, then what is clearly changed and should have stayed.
    """
    expected, levels = table.causes[cause], seen.levels
    weights = {
        symptom: weight_of(symptom, sign, seen, table)
        for symptom, sign in expected.items()
        if symptom in levels and sign != "~"
    }
    supports = sorted(
        (name for name, weight in weights.items() if weight > 0.3 and levels[name]),
        key=lambda name: -weights[name],
    )
    supports += [name for name, sign in expected.items() if sign == "=" and levels.get(name) == 0]
    denies = sorted(
        (name for name, weight in weights.items() if weight < -0.5), key=lambda name: weights[name]
    )
    unexplained = [
        name
        for name, level in levels.items()
        if abs(level) == 2 and expected.get(name, "=") == "=" and name not in PLACE
    ]
    return tuple(supports), (*denies, *unexplained)
