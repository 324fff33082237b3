"""What the report says in words: the summary, what to look at first, what a place shows."""

import re
from collections import Counter
from collections.abc import Sequence

import numpy as np
import pandas as pd

from proofkit.edition import MeasuredEdition
from proofkit.figures.series import pull_order
from proofkit.figures.words import MEASURE_WORDS, SHEET, TELLING, measure_word
from proofkit.judgement.findings import FOR_ITS_SHEET
from proofkit.judgement.types import Judged
from proofkit.report.places import Place
from proofkit.wording import first_of, pulls_listed

_COLUMN_NAMES = re.compile(rf"\b(?:{'|'.join(MEASURE_WORDS)})\b")
_ASKED_CAUSE = re.compile(r"(?:^|(?<=\.)) (?=[A-Z][\w -]{2,24}\? )")

NOTICEABLE_DENSITY = 0.005
"""Under this a place is said to be as dark as the standard's. [D]"""


def counted(count: int, one: str, many: str) -> str:
    """Return a number with its noun.

    >>> counted(1, "pull", "pulls"), counted(3, "pull", "pulls")
    ('1 pull', '3 pulls')
    """
    return f"{count} {one if count == 1 else many}"


def verdicts(measured: MeasuredEdition, judged: Judged) -> dict[str, str]:
    """Return pull -> verdict for every pull of the edition, in order of printing."""
    said = dict(zip(judged.judgement["pull"].map(str), judged.judgement["verdict"].map(str), strict=True))
    return {pull: said.get(pull, "not comparable") for pull in pull_order(measured)}


def summary(measured: MeasuredEdition, judged: Judged) -> list[str]:
    """Return the sentences that open the report."""
    said = verdicts(measured, judged)
    count = Counter(said.values())
    sentences = [_standard_sentence(measured, len(said))]
    if measured.edition.declared == "varied":
        sentences.append(
            "The edition is declared varied: its pulls are described by their distance from the standard, "
            "and none is flagged."
        )
    else:
        others = len(said) - count["standard"] - count["not comparable"]
        sentences.append(_matching(others, count["matches"], _within(measured, judged)))
        again = [pull for pull, verdict in said.items() if verdict == "look again"]
        sentences.append(_these(again, "asks", "ask", "for another look") or "None asks for another look.")
    apart = [pull for pull, verdict in said.items() if verdict == "not comparable"]
    sentences.append(_these(apart, "could", "could", "not be compared"))
    return list(filter(None, sentences))


def _matching(others: int, matching: int, within: str) -> str:
    if others == 0:
        return "There is no other pull to lay beside it."
    if others == 1:
        return f"The other one {'matches it' if matching else 'does not match it'}{within}."
    verb = "matches" if matching == 1 else "match"
    return f"Of the {others} others, {matching or 'none'} {verb if matching else 'matches'} it{within}."


def _these(pulls: Sequence[str], one: str, many: str, rest: str) -> str:
    if not pulls:
        return ""
    return f"{len(pulls)} {one if len(pulls) == 1 else many} {rest} ({pulls_listed(pulls)})."


def _standard_sentence(measured: MeasuredEdition, pulls: int) -> str:
    if measured.is_provisional:
        return (
            f"No standard is named in edition.toml, so pull {measured.standard}, the most central of the "
            f"{counted(pulls, 'pull', 'pulls')}, serves as provisional standard."
        )
    return f"{counted(pulls, 'pull was', 'pulls were')} laid beside pull {measured.standard}, the standard."


def _within(measured: MeasuredEdition, judged: Judged) -> str:
    if judged.limits.empty:
        return " in all that matters"
    confirming = [pull for pull in measured.edition.confirming if pull != measured.standard]
    if confirming:
        return f" within the spread of the confirming ones ({pulls_listed(confirming)})"
    return " within the spread of the edition itself"


def looks_first(measured: MeasuredEdition, judged: Judged) -> list[str]:
    """Return the flagged pulls, the farthest from the standard first."""
    again = [pull for pull, verdict in verdicts(measured, judged).items() if verdict == "look again"]
    farthest = judged.findings["deviation"].abs().groupby(judged.findings["pull"]).max()
    return sorted(again, key=lambda pull: -float(farthest.get(pull, 0.0)))


REGIONS_NAMED = 3
"""Regions named before the rest is counted."""


def regions_in_short(regions: Sequence[str]) -> str:
    """Return the regions concerned, the first few by name.

    >>> regions_in_short(["sky", "river"]), regions_in_short(["sky", "river", "wall", "bank", "hill"])
    ('sky, river', 'sky, river, wall and 2 more')
    """
    if len(regions) <= REGIONS_NAMED + 1:
        return ", ".join(regions)
    return first_of(regions, REGIONS_NAMED)


def in_words(text: str) -> str:
    """Return a sentence with the names of columns as words.

    >>> in_words("Good pulls do not vary in crease_mm.")
    'Good pulls do not vary in creases.'
    """
    return _COLUMN_NAMES.sub(lambda met: MEASURE_WORDS[met[0]].lower(), text)


def paragraphs(reason: str) -> list[tuple[str, str]]:
    """Return the reason of a verdict cause by cause: the cause as asked, and what is said of it.

    >>> paragraphs("Weak: load 9 % low. Dry paper? For: grain. Against: no specks.")
    [('', 'Weak: load 9 % low.'), ('Dry paper?', 'For: grain. Against: no specks.')]
    """
    parts = [part.strip() for part in _ASKED_CAUSE.split(in_words(reason)) if part.strip()]
    told = [part.partition("? ") if _ASKED_CAUSE.match(" " + part) else ("", "", part) for part in parts]
    return [(cause + mark.strip(), rest) for cause, mark, rest in told]


SHOWN_BY = {
    "doubled": "doubling_fraction",
    "crease": "crease_mm",
    "set-off": "set_off_density",
    "specks": "dark_specks_per_cm2",
    "bevel ink": "bevel_density",
    "wipe streaks": "streak_density",
    "clogged hatching": "hatch_open_fraction",
    "scan": "blur_um",
}
"""Cause -> the measure that shows it by itself."""


def telling_order(findings: pd.DataFrame, causes: Sequence[str] = ()) -> pd.DataFrame:
    """Return findings in the order in which they are read.

    First what shows one of the causes by itself, then what else names a thing seen, then what only says how far or
    how even; the farthest out first in each. What differs from the rest of its sheet alone comes last in each: its
    value beside the standard's shows nothing.
    """
    shown = {SHOWN_BY.get(cause) for cause in causes}
    told = zip(findings["measure"], findings["direction"], strict=True)
    ranked = findings.assign(
        _later=[
            2 * (2 - (measure in TELLING) - (measure in shown)) + word.endswith(FOR_ITS_SHEET)
            for measure, word in told
        ],
        _away=-findings["deviation"].abs(),
    )
    return ranked.sort_values(["_later", "_away"], kind="stable").drop(columns=["_later", "_away"])


def most_telling(findings: pd.DataFrame, causes: Sequence[str]) -> str:
    """Return the most telling finding in a few words; empty when there is none."""
    if findings.empty:
        return ""
    row = telling_order(findings, causes).iloc[0]
    where = "the whole sheet" if row["region"] == SHEET else str(row["region"])
    away = abs(float(row["deviation"]))
    return f"{measure_word(str(row['measure']))}, {where}: {row['direction']} ({away:.1f} spreads)"


def place_sentence(place: Place) -> str:
    r"""Return where the place is and how its tone compares.

    >>> print(place_sentence(Place((10.0, 20.0, 22.0, 32.0), 0.04, 0.001)).replace(". ", ".\n").replace("; ", ";\n"))
    Centre 16 mm from the left and 26 mm from the top of the plate mark.
    This square is 0.040 D darker than on the standard;
    the sheet as a whole is as dark as the standard.
    """
    x0, y0, x1, y1 = place.box_mm
    return (
        f"Centre {(x0 + x1) / 2:.0f} mm from the left and {(y0 + y1) / 2:.0f} mm from the top of the plate mark. "
        f"This square is {_than(place.darker_density, 'on the standard')}; "
        f"the sheet as a whole is {_than(place.sheet_darker_density, 'the standard')}."
    )


def _than(darker: float, what: str) -> str:
    if not np.isfinite(darker):
        return "not measurable"
    if abs(darker) < NOTICEABLE_DENSITY:
        return f"as dark as {what}"
    return f"{abs(darker):.3f} D {'darker' if darker > 0 else 'lighter'} than {what}"
