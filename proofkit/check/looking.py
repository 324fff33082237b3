"""Look for single places on the sheets of a measured pile, and lay them out as a table."""

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pandas as pd
from shapely import contains_xy

import proofkit
from proofkit.check.measuring import MeasuredPile
from proofkit.columns import PLACES, make_table
from proofkit.ledger.connection import Ledger
from proofkit.ledger.fine_pictures import find_known_places, fine_pictures, save_places
from proofkit.ledger.keys import digest_of
from proofkit.measures.fine_picture import fine_box
from proofkit.places import FoundPlaces, Place, find_places
from proofkit.places.lasting import seen_on
from proofkit.progress import Progress
from proofkit.quality import Quality, from_words

APART = Quality.MISFIT | Quality.MIRRORED | Quality.LOW_RESOLUTION
"""Sheets with one of these flags show other edges than the rest, so that they would be full of places."""


def look_for_places(pile: MeasuredPile, ledger: Ledger, progress: Progress) -> FoundPlaces:
    """Return the places of single sheets, from the ledger when the same sheets were looked through before.

    Parameters
    ----------
    pile : MeasuredPile
    ledger : Ledger
        Holds their fine pictures.
    progress : callable

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """
    measured = pile.measured
    if measured.edition.declared == "varied":
        return FoundPlaces((), ("Single places are not told of an edition that is declared varied.",))
    pulls = looked_through(pile)
    key = digest_of([_places_version(), {pull: pile.keys[pull] for pull in pulls}, list(pulls)])
    known = find_known_places(ledger, key)
    if known is not None:
        return known
    progress("looking for single places", 0, 1)
    box = fine_box(measured.plate_width_mm, measured.plate_height_mm)
    pictures = fine_pictures(ledger, {pull: pile.keys[pull] for pull in pulls})
    found = find_places(pulls, pictures, (box.rows, box.columns))
    save_places(ledger, key, found)
    progress("looking for single places", 1, 1)
    return found


def looked_through(pile: MeasuredPile) -> list[str]:
    """Return the pulls of the standard's state that lie well on it, in order of printing."""
    states = {pull.pull: pull.notes.get("state", "") for pull in pile.measured.edition.pulls}
    state = states.get(pile.measured.standard, "")
    return [
        pull
        for pull, result in pile.results.items()
        if states.get(pull, "") == state and not from_words(str(result.sheet["quality"])) & APART
    ]


@cache
def _places_version() -> str:
    """Return a digest of the code that looks for places: what older code found is not taken for this one's."""
    root = Path(proofkit.__file__).parent / "places"
    return digest_of([[path.name, path.read_text(encoding="utf-8")] for path in sorted(root.glob("*.py"))])


def places_table(places: Sequence[Place], pile: MeasuredPile) -> pd.DataFrame:
    """Return table `places` of a pile."""
    measured = pile.measured
    seen = seen_on(
        places,
        looked_through(pile),
        turned={pull.pull for pull in measured.edition.pulls if pull.is_turned},
        size_mm=(measured.plate_width_mm, measured.plate_height_mm),
    )
    rows: list[dict[str, object]] = [
        {
            "pull": place.pull,
            "kind": place.kind,
            "lasting": also.lasting,
            "seen_on": "; ".join(also.pulls),
            "keeps_to": also.keeps_to,
            "regions": "; ".join(
                region.name
                for region in measured.regions
                if contains_xy(region.outline_mm, place.x_mm, place.y_mm)
            ),
            "x_mm": place.x_mm,
            "y_mm": place.y_mm,
            "length_mm": place.length_mm,
            "breadth_mm": place.breadth_mm,
            "direction_deg": place.direction_deg,
            "ink_change": place.ink_change,
            "spreads": place.spreads,
            "recurs_on": float(len(also.pulls)),
        }
        for place, also in zip(places, seen, strict=True)
    ]
    return make_table(rows, PLACES)
