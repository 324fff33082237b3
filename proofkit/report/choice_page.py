"""The page that lays trial proofs side by side: wishes, trade-offs, repeatability, differences."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import numpy as np

import proofkit
from proofkit.choice import Choice, Granted
from proofkit.choice.recipes import differing_cells, recipe_of
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.errors import ProofkitError
from proofkit.figures.words import bare_number, measure_word, unit_of
from proofkit.folder.edition import Region
from proofkit.folder.writing import write_text
from proofkit.report.cards import designation, sheet_picture
from proofkit.report.page import content_policy
from proofkit.report.pictures import data_uri
from proofkit.report.templates import templates

SHEET_PX = 300
"""Longest side of the picture of a whole proof. [px]"""

SQUARE_MM = 8.0
"""Side of the squares of regions: what a loupe of ten times shows at once (common practice). [mm]"""

SQUARE_PX = 220
MOST_SQUARES = 60
"""Squares on the page: each takes some 10 kB."""

DIFFERENCES_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Proof:
    """One candidate as it is shown."""

    pull: str
    designation: str
    note: str
    recipe: tuple[tuple[str, str, bool], ...]
    """(cell, text, whether candidates differ in it)."""
    picture: str


@dataclass(frozen=True, slots=True)
class Cell:
    """How far one candidate grants one wish."""

    value: str
    granted: float
    """0 to 1, NaN = cannot be told."""
    said: str
    is_first: bool


@dataclass(frozen=True, slots=True)
class WishRow:
    """One wish over the candidates."""

    region: str
    want: str
    says: str
    weight: str
    cells: tuple[Cell, ...]
    squares: tuple[str, ...]
    """Data addresses, empty where there is none."""


def write_choice_page(measured: MeasuredEdition, choice: Choice, pictures: PlatePictures, path: Path) -> None:
    """Write the page; one HTML file that asks nothing of the network and prints.

    Parameters
    ----------
    measured : MeasuredEdition
    choice : Choice
    pictures : PlatePictures
        Gives squares of the laid scans, for looking.
    path : Path
        File to write; replaced in one step.
    """
    style = resources.files("proofkit.report").joinpath("page.css").read_text(encoding="utf-8")
    page = (
        templates()
        .get_template("choice.html.j2")
        .render(
            measured=measured,
            choice=choice,
            proofs=_proofs(measured, choice),
            wishes=_wish_rows(measured, choice, pictures),
            rows=candidate_rows(choice),
            said=sentences_of(choice),
            differences=_difference_rows(choice),
            differences_left=max(len(choice.differences) - DIFFERENCES_SHOWN, 0),
            version=proofkit.__version__,
            made_at=datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
            policy=content_policy([]),
            style=style,
        )
    )
    write_text(path, page)


def _proofs(measured: MeasuredEdition, choice: Choice) -> tuple[Proof, ...]:
    pulls = {pull.pull: pull for pull in measured.edition.pulls}
    recipes = {pull: recipe_of(pulls[pull]) for pull in choice.candidates}
    differ = differing_cells(list(recipes.values()))
    return tuple(
        Proof(
            pull=pull,
            designation=designation(measured, pull),
            note=pulls[pull].notes.get("note", ""),
            recipe=tuple((cell, text, cell in differ) for cell, text in recipes[pull].items()),
            picture=sheet_picture(measured, pull, SHEET_PX),
        )
        for pull in choice.candidates
    )


def _wish_rows(measured: MeasuredEdition, choice: Choice, pictures: PlatePictures) -> tuple[WishRow, ...]:
    regions = {region.name: region for region in measured.regions}
    squares = _squares(choice, regions, pictures)
    return tuple(
        WishRow(
            region=one.wish.region,
            want=one.wish.want or f"{one.aim.wanted} {measure_word(one.aim.measure).lower()}",
            says=_says(one),
            weight=f"{one.wish.weight:g}",
            cells=_cells(one),
            squares=squares.get(one.wish.region, ()),
        )
        for one in choice.wishes
    )


def _says(one: Granted) -> str:
    low, best, high = one.limits
    measure, unit = measure_word(one.aim.measure).lower(), unit_of(one.aim.measure)
    parts = [one.aim.says] if one.aim.says else []
    if np.isfinite(best):
        bounds = [f"wholly at {bare_number(one.aim.measure, best)}"]
        bounds += [
            f"{'not at all' if one.aim.best is not None else 'least'} {word} {bare_number(one.aim.measure, bound)}"
            for word, bound in (("up to", low), ("from", high))
            if np.isfinite(bound)
        ]
        parts.append(f"{measure}{f' [{unit}]' if unit else ''}: {', '.join(bounds)}")
    else:
        parts.append(measure)
    return "; ".join(parts)


def _cells(one: Granted) -> tuple[Cell, ...]:
    known = np.isfinite(one.granted)
    best = float(one.granted[known].max()) if known.any() else np.nan
    cells = []
    for value, u, share, low, high in zip(
        one.measured, one.uncertainties, one.granted, one.low, one.high, strict=True
    ):
        text = bare_number(one.aim.measure, float(value))
        if np.isfinite(u):
            text += f" ± {bare_number(one.aim.measure, float(u))}"
        said = "cannot be told" if not np.isfinite(share) else _share(float(share), float(low), float(high))
        cells.append(
            Cell(
                text,
                float(share),
                said,
                bool(share >= best - 1e-9) and bool((one.granted[known] < best).any()),
            )
        )
    return tuple(cells)


def _share(share: float, low: float, high: float) -> str:
    """Return how far a wish is granted, in words and with its range.

    >>> _share(1.0, 0.9, 1.0), _share(0.42, 0.42, 0.42)
    ('wholly (0.90 to 1.00)', '0.42')
    """
    word = "wholly" if share > 0.995 else "not at all" if share < 0.005 else f"{share:.2f}"
    return word if high - low < 0.005 else f"{word} ({low:.2f} to {high:.2f})"


def _squares(
    choice: Choice, regions: dict[str, Region], pictures: PlatePictures
) -> dict[str, tuple[str, ...]]:
    """Return region -> its square on each candidate; asked for by candidate, so that each scan is read once."""
    names = list(dict.fromkeys(one.wish.region for one in choice.wishes if one.wish.region in regions))
    names = (names or list(regions))[: max(MOST_SQUARES // len(choice.candidates), 1)]
    found: dict[str, list[str]] = {name: [] for name in names}
    for pull in choice.candidates:
        for name in names:
            found[name].append(_square(pictures, pull, regions[name]))
    return {name: tuple(addresses) for name, addresses in found.items()}


def _square(pictures: PlatePictures, pull: str, region: Region) -> str:
    point = region.outline_mm.representative_point()
    half = SQUARE_MM / 2
    box = (point.x - half, point.y - half, point.x + half, point.y + half)
    try:
        picture = pictures(pull, box, SQUARE_PX / SQUARE_MM)
    except ProofkitError:
        return ""
    return data_uri(picture) if np.isfinite(picture).any() else ""


def wish_lines(choice: Choice) -> list[tuple[str, ...]]:
    """Return one row per wish: what is wanted, then how far each candidate grants it."""
    return [
        (f"{one.wish.region}: {one.wish.want or one.aim.measure}", *(cell.said for cell in _cells(one)))
        for one in choice.wishes
    ]


def candidate_rows(choice: Choice) -> list[dict[str, str]]:
    """Return the candidates as people read them: trade-offs and repeatability."""

    def number(value: float, form: str) -> str:
        return form.format(value) if np.isfinite(value) else "–"

    rows = []
    for row in choice.table.to_dict("records"):
        inside = "–"
        if np.isfinite(row["inside_fraction"]):
            low, high = (100 * float(row[name]) for name in ("inside_fraction", "weakest_fraction"))
            inside = f"{low:.0f} to {high:.0f} %" if high - low >= 1 else f"{high:.0f} %"
        rows.append(
            {
                "pull": str(row["pull"]),
                "first_in": str(row["first_in"]) or "–",
                "surpassed_by": str(row["surpassed_by"]) or "–",
                "leads": number(100 * float(row["leads_fraction"]), "{:.0f} %"),
                "confirming": str(row["confirming"]) or "none",
                "distance": number(float(row["distance_spreads"]), "{:.1f}"),
                "farthest": _place(str(row["farthest_in"])),
                "inside": inside,
                "weakest": _place(str(row["weakest_in"])),
            }
        )
    return rows


def _place(text: str) -> str:
    region, _, measure = text.rpartition(": ")
    return f"{region}: {measure_word(measure).lower()}" if region else ""


def _difference_rows(choice: Choice) -> list[dict[str, str]]:
    table = choice.differences
    order = table["deviation"].abs().sort_values(ascending=False, kind="stable").index
    rows = []
    for row in table.loc[order].head(DIFFERENCES_SHOWN).to_dict("records"):
        measure = str(row["measure"])
        rows.append(
            {
                "pair": f"{row['pull']} and {row['other']}",
                "region": str(row["region"]),
                "measure": measure_word(measure),
                "value": bare_number(measure, float(row["value"])),
                "other_value": bare_number(measure, float(row["other_value"])),
                "deviation": f"{float(row['deviation']):+.1f}".replace("-", "−"),
                "direction": f"{row['other']} {row['direction']}",
            }
        )
    return rows


def sentences_of(choice: Choice) -> Sequence[str]:
    """Return the trade-offs in plain words: who is first in what, and who is surpassed in all."""
    rows = choice.table.to_dict("records")
    said = [
        f"Pull {row['pull']} is first in {str(row['first_in']).replace('; ', ', ')}."
        for row in rows
        if row["first_in"]
    ]
    said += [
        f"Pull {row['pull']} grants no wish further than pull {str(row['surpassed_by']).replace('; ', ' or ')}."
        for row in rows
        if row["surpassed_by"]
    ]
    if choice.wishes and not (choice.table["leads_fraction"] > 0).any():
        said.append("No candidate grants something of every wish, so that none leads under any weights.")
    first = [row for row in rows if row["first_in"]]
    if len(first) > 1:
        said.append(
            "That candidates win in different regions is information for a further trial, not a reason to average."
        )
    return said
