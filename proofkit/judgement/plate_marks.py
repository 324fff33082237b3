"""Say of marks that several pulls have what they are likely to belong to."""

import math
from collections.abc import Iterable

import pandas as pd

from proofkit.places.lasting import SAME_PLACE_MM
from proofkit.wording import listed

Row = dict[str, object]

MOST_TOLD = 4
"""Marks told one by one; the table has all."""

_LASTS = {
    "from here on": "came with pull {first} and is on {count} pulls up to the last",
    "up to here": "is on {count} pulls from the first to {last} and then gone",
    "for a while": "is on pulls {pulls}",
    "on and off": "is on pulls {pulls}, and not on those between",
}

_LOOK = {
    "dark": "Look at the plate there for a scratch, foul biting or dried ink",
    "light": "Look there for dirt or lint on plate and blanket, and for work that is filled or worn",
}

_UNTOLD = (
    "; if nothing shows, print one pull with the plate turned end for end on the bed and write `turned` under bed in "
    "pulls.csv: the plate's own marks turn with it, those of blanket, bed and roller do not."
)
_OF_THE_PLATE = "; it turned with the plate on the bed, so it is the plate's."
_OF_THE_PRESS = (
    "It did not turn with the plate on the bed, so it is the blanket's, the bed's or the roller's."
)


def on_plate_marks(places: pd.DataFrame) -> list[str]:
    """Return a sentence for each mark that several pulls have, the one on most pulls first.

    Parameters
    ----------
    places : DataFrame
        Table `places`.
    """
    rows = [{str(k): v for k, v in row.items()} for row in places.astype(object).to_dict("records")]
    marks = sorted(_marks(rows), key=lambda mark: -_number(mark, "recurs_on"))
    said = [_sentence(mark) for mark in marks[:MOST_TOLD]]
    if left := len(marks) - len(said):
        said.append(
            f"{left} more {'mark is' if left == 1 else 'marks are'} on several pulls; see places.csv."
        )
    return said


def _marks(rows: Iterable[Row]) -> list[Row]:
    """Return the row of its first pull for each mark on several pulls; rows are in order of printing."""
    marks: list[Row] = []
    for row in rows:
        if _number(row, "recurs_on") and not any(_is_of(row, mark) for mark in marks):
            marks.append(row)
    return marks


def _is_of(row: Row, mark: Row) -> bool:
    if _shade(row) != _shade(mark) or str(row["pull"]) not in _others(mark):
        return False
    apart = math.dist(*([_number(one, axis) for axis in ("x_mm", "y_mm")] for one in (row, mark)))
    return mark["keeps_to"] == "press" or apart <= SAME_PLACE_MM


def _sentence(mark: Row) -> str:
    pulls = [str(mark["pull"]), *_others(mark)]
    lasts = _LASTS[str(mark["lasting"])].format(
        first=pulls[0], last=pulls[-1], count=len(pulls), pulls=listed(pulls)
    )
    where = f"{_number(mark, 'x_mm'):.1f} mm from the left, {_number(mark, 'y_mm'):.1f} mm from the top"
    within = f" ({mark['regions']})" if mark["regions"] else ""
    return f"A {mark['kind']} {where}{within} {lasts}. {_to_do(mark)}"


def _to_do(mark: Row) -> str:
    """Return where to look; a mark of the press is not looked for on the plate."""
    if mark["keeps_to"] == "press":
        return _OF_THE_PRESS
    return _LOOK[_shade(mark)] + (_OF_THE_PLATE if mark["keeps_to"] == "plate" else _UNTOLD)


def _others(row: Row) -> list[str]:
    return [pull for pull in str(row["seen_on"]).split("; ") if pull]


def _shade(row: Row) -> str:
    return "dark" if _number(row, "ink_change") > 0 else "light"


def _number(row: Row, name: str) -> float:
    return float(str(row[name]))
