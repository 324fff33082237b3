"""Say in plain words what a sheet shows and what speaks for and against the causes."""

import math

from proofkit.judgement.causes import CauseTable, SymptomWords, Weighed, evidence, named
from proofkit.judgement.readings import Reading
from proofkit.judgement.symptoms import Symptoms
from proofkit.wording import first_of

MOST_CLAUSES = 3
"""Observations, and pieces of evidence on either side, that one sentence carries."""

MOST_REGIONS = 4

_UNITS = {"density": "D", "density value": "D", "um": "µm", "mm": "mm", "count": "per cm²"}

_FIRST = (
    ("crease", 1, "Crease"),
    ("doubling", 1, "Doubled"),
    ("ghost", 1, "Mirrored ghost"),
    ("load", -1, "Weak"),
    ("continuity", -1, "Weak"),
    ("core", -1, "Weak"),
    ("width", -1, "Weak"),
    ("film_ramp", 1, "Uneven"),
    ("film", -1, "Overwiped"),
    ("open_film", -1, "Overwiped"),
    ("load_ramp", 1, "Uneven"),
    ("film_patch", 1, "Uneven"),
    ("film", 1, "Dirty tone"),
    ("open_film", 1, "Dirty tone"),
    ("openness", -1, "Closed hatching"),
    ("gaps", 1, "Closed hatching"),
    ("load", 1, "Heavy"),
    ("width", 1, "Heavy"),
    ("streaks", 1, "Streaks"),
    ("bevel", 1, "Plate mark not clean"),
    ("dark_specks", 1, "Specks"),
    ("light_specks", 1, "Specks"),
    ("load_variation", 1, "Uneven lines"),
    ("margin", 1, "Darker margin"),
    ("margin", -1, "Lighter margin"),
    ("blur", 1, "Scan not sharp"),
)
"""The plain word that opens a reason, by the first symptom of this list that is clear."""

_QUIET = frozenset({"whole_sheet", "ramps_agree", "wear", "burr", "batch", "embossing", "embossing_uneven"})
"""Symptoms that belong to the evidence, not to the observation."""


def _number(value: float, show: str) -> str:
    match show:
        case "percent" | "log percent" | "fraction percent":
            return f"{abs(value) * 100:.0f} %"
        case "density" | "density value":
            return f"{abs(value):.3f} D" if abs(value) < 0.0995 else f"{abs(value):.2f} D"
        case "pair":
            return f"{value:.2f}"
        case "plain":
            return f"{abs(value):.1f}"
        case "um" | "mm":
            return f"{value:.0f} {_UNITS[show]}"
        case _:
            return f"{value:.1f} {_UNITS.get(show, '')}".strip()


def clause(words: SymptomWords, reading: Reading) -> str:
    """Return one observation in words, with its number and unit.

    Parameters
    ----------
    words : SymptomWords
    reading : Reading

    Returns
    -------
    str
        Without capital or full stop.
    """
    text = words.higher if reading.level > 0 else words.lower if reading.level < 0 else words.unchanged
    if not math.isfinite(reading.value):
        return text
    change = reading.value - reading.centre
    if words.show == "percent" and reading.centre:
        change /= reading.centre
    if words.show == "log percent":
        change = math.expm1(change)
    return text.format(
        value=_number(reading.value, words.show),
        centre=_number(reading.centre, words.show),
        amount=_number(change, words.show),
    )


def _quoted(regions: tuple[str, ...]) -> str:
    return first_of([f"'{region}'" for region in regions], MOST_REGIONS)


def _observation(symptoms: Symptoms, table: CauseTable) -> str:
    clear = {
        name: one for name, one in symptoms.readings.items() if abs(one.level) == 2 and name not in _QUIET
    }
    if not clear:
        clear = {name: one for name, one in symptoms.readings.items() if one.level and name not in _QUIET}
    first = next(
        (word for name, sign, word in _FIRST if name in clear and clear[name].level * sign > 0),
        "Leaves the standard",
    )
    opening = {name: sign for name, sign, word in _FIRST if word == first}
    ordered = sorted(
        clear,
        key=lambda name: (
            name not in opening or clear[name].level * opening[name] < 0,
            -abs(clear[name].z) * table.symptoms[name].weight,
        ),
    )
    parts = [clause(table.symptoms[name], clear[name]) for name in ordered[:MOST_CLAUSES]]
    place = "" if not symptoms.regions else f" in {_quoted(symptoms.regions)}"
    if symptoms.is_whole and len(symptoms.regions) != 1:
        place = " over the sheet" + (f", most in {_quoted(symptoms.regions[:2])}" if symptoms.regions else "")
    film = symptoms.readings.get("film")
    tail = ""
    if film is not None and film.level == 0 and first == "Weak":
        tail = "; film unchanged"
    return f"{first}: {'; '.join(parts)}{place}{tail}." if parts else f"{first}{place}."


def _for_and_against(cause: str, symptoms: Symptoms, table: CauseTable) -> str:
    supports, denies = evidence(cause, symptoms.seen, table)

    def said(names: tuple[str, ...]) -> str:
        return "; ".join(
            clause(table.symptoms[name], symptoms.readings[name]) for name in names[:MOST_CLAUSES]
        )

    text = f"{cause[0].upper()}{cause[1:]}?"
    text += f" For: {said(supports)}." if supports else " For: nothing that others do not explain as well."
    return text + (f" Against: {said(denies)}." if denies else " Against: nothing seen.")


RECIPE = ("paper", "ink", "wiping", "pressure")
"""Columns of pulls.csv that make the recipe of a pull."""


def noted_otherwise(notes: dict[str, dict[str, str]], pull: str, standard: str) -> str:
    """Return a sentence on what pulls.csv notes of a pull otherwise than of the standard; empty for nothing."""
    own, reference = notes.get(pull, {}), notes.get(standard, {})
    differing = [
        f"{column} '{own[column]}' (standard: '{reference[column]}')"
        for column in RECIPE
        if own.get(column) and reference.get(column) and own[column] != reference[column]
    ]
    return f" Noted otherwise than the standard: {'; '.join(differing)}." if differing else ""


def reason(symptoms: Symptoms, ranked: tuple[Weighed, ...], table: CauseTable) -> tuple[tuple[str, ...], str]:
    """Return the causes worth naming and the whole reason.

    Parameters
    ----------
    symptoms : Symptoms
    ranked : tuple of Weighed
        From `causes.weigh`, best first.
    table : CauseTable

    Returns
    -------
    tuple
        Causes in rank order, and the text: what was seen, then the causes with what speaks for and against them.
    """
    causes, tied = named(ranked)
    parts = [_observation(symptoms, table)]
    if not causes:
        parts.append("Cannot tell the cause: no cause of the table explains this.")
    elif ranked and len(ranked[0].causes) > 1:
        parts.append(f"Two causes together: {' and '.join(causes)}.")
    elif tied:
        parts.append(f"Cannot tell between {' and '.join(causes)}.")
    parts += [_for_and_against(cause, symptoms, table) for cause in causes[:2]]
    if symptoms.is_blind and any(cause in ("overwiped", "low pressure", "dry paper") for cause in causes):
        parts.append(
            "The standard is wiped clean, so its film cannot fall: overwiped, low pressure and dry paper look alike"
            + (
                "."
                if "embossing" in symptoms.readings
                else "; a note on the embossing in pulls.csv would help."
            )
        )
    return causes, " ".join(parts)
