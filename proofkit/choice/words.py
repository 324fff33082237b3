"""Wishes in words -> what they mean in numbers; the list is words.toml."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

import numpy as np

from proofkit.arrays import Floats
from proofkit.choice.desirability import at_least, at_most, near
from proofkit.errors import FolderError
from proofkit.folder.problems import quoted
from proofkit.folder.wishes import Wish

Wanted = Literal["less", "more", "there"]


@dataclass(frozen=True, slots=True)
class Aim:
    """What a wish means in numbers."""

    measure: str
    wanted: Wanted
    low: float | None
    best: float | None
    """None = the candidates' own range is the scale."""
    high: float | None
    least: float
    """Least width of such a range. [as the measure]"""
    least_fraction: float
    """The same as a share of the candidates' mean. [-]"""
    says: str
    strictness: float = 1.0


@cache
def wish_words() -> Mapping[str, Aim]:
    """Return every name of every wish in words, in lower case."""
    text = resources.files("proofkit.choice").joinpath("words.toml").read_text(encoding="utf-8")
    found: dict[str, Aim] = {}
    for name, row in tomllib.loads(text).items():
        aim = Aim(
            measure=row["measure"],
            wanted=row["wanted"],
            low=row.get("low"),
            best=row.get("best"),
            high=row.get("high"),
            least=row.get("least", 0.0),
            least_fraction=row.get("least_fraction", 0.0),
            says=row["says"],
        )
        for word in (name, *row["also"]):
            found[word] = aim
    return found


def main_words() -> list[str]:
    """Return the first name of each wish."""
    text = resources.files("proofkit.choice").joinpath("words.toml").read_text(encoding="utf-8")
    return list(tomllib.loads(text))


def aim_of(wish: Wish) -> Aim:
    """Return what a wish means.

    Raises
    ------
    FolderError
        If its words are not in the list.
    """
    if wish.want:
        aim = wish_words().get(" ".join(wish.want.casefold().split()))
        if aim is None:
            raise FolderError(
                f"edition.toml: the wish {quoted(wish.want)} for region {quoted(wish.region)} is not known; known are "
                f"{', '.join(main_words())}. Use one of them, or give measure, low, best and high."
            )
        return aim
    wanted: Wanted = "less" if wish.low is None else "more" if wish.high is None else "there"
    return Aim(wish.measure, wanted, wish.low, wish.best, wish.high, 0.0, 0.0, "", wish.strictness)


def range_of(aim: Aim, values: Floats) -> tuple[float, float, float]:
    """Return low, best and high of an aim for the values of the candidates; what it has no use for is NaN.

    Where the candidates' own range is the scale, it is widened about its middle to the least width.
    """
    if aim.best is not None:
        return tuple(float("nan") if limit is None else limit for limit in (aim.low, aim.best, aim.high))  # type: ignore[return-value]  # three in, three out
    known = values[np.isfinite(values)]
    if not known.size:
        return (float("nan"),) * 3
    least = max(aim.least, aim.least_fraction * abs(float(known.mean())), 1e-9)
    middle = float(known.max() + known.min()) / 2
    half = max(float(np.ptp(known)), least) / 2
    if aim.wanted == "more":
        return middle - half, middle + half, float("nan")
    return float("nan"), middle - half, middle + half


LEAST_OF_A_RANGE = 0.1
"""What is granted to the candidate that has least of what is wanted, where the candidates' own range is the scale: it
may have enough, so that it must not be ruled out as a wish not granted at all would. [-]"""


def granted(aim: Aim, values: Floats, limits: tuple[float, float, float]) -> Floats:
    """Return how far values grant an aim, 0 to 1; NaN where the value is or where no scale could be had."""
    low, best, high = limits
    if not np.isfinite(best):
        return np.full(np.shape(values), np.nan)
    match aim.wanted:
        case "more":
            share = at_least(values, low, best, aim.strictness)
        case "less":
            share = at_most(values, best, high, aim.strictness)
        case "there":
            share = near(values, low, best, high, aim.strictness)
    return share if aim.best is not None else LEAST_OF_A_RANGE + (1 - LEAST_OF_A_RANGE) * share


def check_wishes(wishes: tuple[Wish, ...]) -> None:
    """Refuse words that are not known, and wishes of one region of which no pull can grant both.

    Raises
    ------
    FolderError
        One line for each.
    """
    problems: list[str] = []
    aims: list[tuple[Wish, Aim]] = []
    for wish in wishes:
        try:
            aims.append((wish, aim_of(wish)))
        except FolderError as error:
            problems.append(str(error))
    for index, (wish, aim) in enumerate(aims):
        problems.extend(
            f"edition.toml: region {quoted(wish.region)} is wished {_named(wish, aim)} and {_named(other, second)}; "
            "no pull can grant both. Take one of them away."
            for other, second in aims[:index]
            if other.region == wish.region and _contradict(aim, second)
        )
    if problems:
        raise FolderError("\n".join(problems))


def _named(wish: Wish, aim: Aim) -> str:
    return quoted(wish.want) if wish.want else f"{aim.wanted} {aim.measure}"


def _contradict(first: Aim, second: Aim) -> bool:
    if first.measure != second.measure:
        return False
    if {first.wanted, second.wanted} == {"less", "more"}:
        return True
    if first.best is None or second.best is None:
        return False
    lows = [aim.low if aim.low is not None else -np.inf for aim in (first, second)]
    highs = [aim.high if aim.high is not None else np.inf for aim in (first, second)]
    return max(lows) >= min(highs) or first.best != second.best
