"""Keep fine pictures of sheets in strips, and the places that were found in them."""

import json
from dataclasses import asdict
from typing import cast

import cv2
import numpy as np
from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from proofkit.arrays import Ink
from proofkit.errors import LedgerError
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.models import FinePictureRecord, PlacesRecord, SheetRecord
from proofkit.places.types import FoundPlaces, Place

STRIP_ROWS = 256
"""Rows in one strip: what is looked through at a time on a large plate and many sheets."""


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


def fine_rows(ledger: Ledger, key_digest: str, top: int, bottom: int) -> Ink:
    """Return rows `top` to `bottom` of the fine picture of a sheet.

    Parameters
    ----------
    ledger : Ledger
    key_digest : str
        `digest` of the sheet's `SheetKey`.
    top, bottom : int
        First row and row after the last.

    Raises
    ------
    LedgerError
        If the ledger does not have it, or not whole.
    """
    first = top // STRIP_ROWS * STRIP_ROWS
    asked = (
        select(FinePictureRecord.codes)
        .join(SheetRecord, SheetRecord.id == FinePictureRecord.sheet_id)
        .where(SheetRecord.key == key_digest)
        .where(FinePictureRecord.first_row >= first, FinePictureRecord.first_row < bottom)
        .order_by(FinePictureRecord.first_row)
    )
    packed = transaction(ledger, lambda session: list(session.scalars(asked)))
    strips = [cv2.imdecode(np.frombuffer(code, dtype=np.uint8), cv2.IMREAD_UNCHANGED) for code in packed]
    rows = sum(len(strip) for strip in strips if strip is not None)
    if any(strip is None for strip in strips) or rows < bottom - first:
        raise LedgerError(
            f"Ledger {ledger.name}: the fine picture of a sheet in it is not whole. Move the file away or put a copy "
            "back, then run again."
        )
    return np.concatenate(cast("list[Ink]", strips))[top - first : bottom - first]


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
