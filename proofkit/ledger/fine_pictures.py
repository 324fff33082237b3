"""Keep fine pictures of sheets in strips, and the places that were found in them."""

import json
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from typing import cast

import cv2
import numpy as np
from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from proofkit.arrays import Ink
from proofkit.errors import LedgerError
from proofkit.folder.problems import quoted
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.models import FinePictureRecord, PlacesRecord, SheetRecord
from proofkit.places.types import FinePictures, FoundPlaces, Place

STRIP_ROWS = 256
"""Rows in one strip: what is looked through at a time on a large plate and many sheets."""

HELD = 2
"""Strips of each sheet that are held, as those who ask for rows mostly ask for the next ones then."""


def add_fine_picture(session: Session, sheet_id: int, fine: Ink) -> None:
    """Add the fine picture of a sheet to its transaction."""
    session.execute(
        insert(FinePictureRecord),
        [
            {"sheet_id": sheet_id, "first_row": top, "codes": _packed(fine[top : top + STRIP_ROWS])}
            for top in range(0, len(fine), STRIP_ROWS)
        ],
    )


def _packed(strip: Ink) -> bytes:
    _, png = cv2.imencode(".png", strip)
    return png.tobytes()


def fine_pictures(ledger: Ledger, keys: Mapping[str, str]) -> FinePictures:
    """Return what gives rows of the fine pictures of sheets.

    Parameters
    ----------
    ledger : Ledger
    keys : mapping
        Pull -> `digest` of its sheet's `SheetKey`.

    Returns
    -------
    callable
        ``(pull, first row, row after the last) -> (rows, columns)``; from several threads, best in the order of the
        rows, as the last strips are held. Raises LedgerError if the ledger does not have them, or not whole.
    """

    @lru_cache(maxsize=HELD * max(len(keys), 1))
    def strip(pull: str, first: int) -> Ink | None:
        return _strip(ledger, keys[pull], first)

    def rows(pull: str, top: int, bottom: int) -> Ink:
        begin = top // STRIP_ROWS * STRIP_ROWS
        found = [strip(pull, first) for first in range(begin, bottom, STRIP_ROWS)]
        whole = [part for part in found if part is not None]
        if len(whole) < len(found) or sum(map(len, whole)) < bottom - begin:
            raise LedgerError(
                f"Ledger {ledger.name}: the fine picture of pull {quoted(pull)} in it is not whole. Move the file away "
                "or put a copy back, then run again."
            )
        parts = [
            part[max(top - first, 0) : bottom - first]
            for part, first in zip(whole, range(begin, bottom, STRIP_ROWS), strict=True)
        ]
        return parts[0] if len(parts) == 1 else np.concatenate(parts)

    return rows


def _strip(ledger: Ledger, key_digest: str, first: int) -> Ink | None:
    """Return the strip of a fine picture that begins at row `first`; None where there is none, or none to be read."""
    asked = (
        select(FinePictureRecord.codes)
        .join(SheetRecord, SheetRecord.id == FinePictureRecord.sheet_id)
        .where(SheetRecord.key == key_digest, FinePictureRecord.first_row == first)
    )
    packed = transaction(ledger, lambda session: session.scalar(asked))
    if packed is None:
        return None
    return cast("Ink | None", cv2.imdecode(np.frombuffer(packed, dtype=np.uint8), cv2.IMREAD_UNCHANGED))


def find_known_places(ledger: Ledger, key: str) -> FoundPlaces | None:
    """Return what was found before in the same sheets by the same code, None when nobody looked."""
    asked = select(PlacesRecord.places).where(PlacesRecord.key == key)
    text = transaction(ledger, lambda session: session.scalar(asked))
    if text is None:
        return None
    try:
        content = json.loads(text)
        return FoundPlaces(tuple(Place(**place) for place in content["places"]), tuple(content["remarks"]))
    except (ValueError, KeyError, TypeError):
        return None  # written by hand or by another version: looked for again


def save_places(ledger: Ledger, key: str, found: FoundPlaces) -> None:
    """Keep what was found in a set of sheets."""

    def write(session: Session) -> None:
        session.merge(PlacesRecord(key=key, places=json.dumps(asdict(found))))

    try:
        transaction(ledger, write)
    except LedgerError as error:
        if not isinstance(error.__cause__, IntegrityError):
            raise
        # Another check of the same sheets wrote between the question and the answer.
