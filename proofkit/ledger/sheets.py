"""Keep measured sheets: one transaction each, found again by their key."""

import json
import math
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast

from sqlalchemy import RowMapping, insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from proofkit.columns import MEASURES, names
from proofkit.errors import LedgerError
from proofkit.laying.types import Laying
from proofkit.ledger.connection import Ledger, transaction
from proofkit.ledger.fine_pictures import add_fine_picture
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.models import MeasureRecord, RegionRecord, SheetRecord
from proofkit.ledger.packing import Arrays, from_bytes, join, plain, split, to_bytes, to_json
from proofkit.reflectance.types import Paper
from proofkit.sheet import SheetResult

READ_AT_ONCE = 50
"""Sheets in one question: few questions for an edition, some MB of answer."""


def save_sheet(ledger: Ledger, key: SheetKey, result: SheetResult) -> bool:
    """Keep a measured sheet; all of it or nothing.

    Returns
    -------
    bool
        False when the ledger has it already, for example from another run at the same time.

    Raises
    ------
    LedgerError
        If the ledger cannot be written.
    """
    scalars_laying, arrays_laying = split(result.laying, "laying")
    scalars_paper, arrays_paper = split(result.paper, "paper")
    arrays: Arrays = {"tone_picture": result.tone_picture, "corners_px": result.corners_px}
    arrays |= arrays_laying | arrays_paper
    values = {
        "key": key.digest,
        "scan_sha256": key.scan_sha256,
        "setup_sha256": key.setup_sha256,
        "standard_sha256": key.standard_sha256,
        "version": key.version,
        "measured_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "sheet": to_json(result.sheet),
        "scalars": to_json(
            {
                "laying": scalars_laying,
                "paper": scalars_paper,
                "specks": result.specks,
                "not_laid": result.not_laid,
            }
        ),
        "arrays": to_bytes(arrays),
    }

    def add(session: Session) -> bool:
        if session.scalar(select(SheetRecord.id).where(SheetRecord.key == key.digest)) is not None:
            return False
        record = SheetRecord(**values)
        session.add(record)
        session.flush()
        _add_rows(session, record.id, result)
        if result.fine is not None:
            add_fine_picture(session, record.id, result.fine)
        return True

    try:
        return transaction(ledger, add)
    except LedgerError as error:
        if isinstance(error.__cause__, IntegrityError):
            # Another program wrote the same sheet between the question and the answer.
            return False
        raise


def _add_rows(session: Session, sheet_id: int, result: SheetResult) -> None:
    regions: list[dict[str, object]] = []
    measures: list[dict[str, object]] = []
    for position, row in enumerate(result.rows):
        region = str(row["region"])
        histogram = result.histograms.get(region)
        regions.append(
            {
                "sheet_id": sheet_id,
                "region": region,
                "position": position,
                "work": row["work"],
                "quality": row.get("quality", ""),
                "histogram": None if histogram is None else to_json(histogram),
            }
        )
        measures.extend(
            {
                "sheet_id": sheet_id,
                "region": region,
                "measure": measure,
                "value": value,
                "uncertainty": uncertainty,
            }
            for measure, value, uncertainty in _measures(row)
        )
    if regions:
        session.execute(insert(RegionRecord), regions)
    if measures:
        session.execute(insert(MeasureRecord), measures)


def _measures(row: dict[str, object]) -> list[tuple[str, float | None, float | None]]:
    found = []
    for measure in names(MEASURES):
        value, uncertainty = _number(row.get(measure)), _number(row.get(f"u_{measure}"))
        if value is not None or uncertainty is not None:
            found.append((measure, value, uncertainty))
    return found


def _number(value: object) -> float | None:
    number = math.nan if value is None else float(cast("float", plain(value)))
    return None if math.isnan(number) else number


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """Rows of one sheet as they stand in the ledger."""

    sheet: RowMapping
    regions: list[RowMapping]
    measures: list[RowMapping]


def find_sheet(ledger: Ledger, key: SheetKey) -> SheetResult | None:
    """Return a sheet that was measured before under the same key, None when there is none; see `find_sheets`."""
    return find_sheets(ledger, [key]).get(key)


def find_sheets(ledger: Ledger, keys: Iterable[SheetKey]) -> dict[SheetKey, SheetResult]:
    """Return the sheets that were measured before under these keys, in three questions for every fifty.

    The cells pull and scan of their rows are those of the run that measured them.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """
    wanted = {key.digest: key for key in keys}
    found: dict[SheetKey, SheetResult] = {}
    digests = list(wanted)
    for start in range(0, len(digests), READ_AT_ONCE):
        for kept in _read(ledger, digests[start : start + READ_AT_ONCE]):
            key = wanted[kept.sheet["key"]]
            try:
                found[key] = _result(kept)
            except (ValueError, KeyError, TypeError, zipfile.BadZipFile, EOFError) as error:
                raise LedgerError(
                    f"Ledger {ledger.name}: the sheet {key.scan_sha256[:12]}… in it cannot be read ({error}). "
                    "Move the file away or put a copy back, then run again."
                ) from error
    return found


def _read(ledger: Ledger, digests: list[str]) -> Iterator[_Kept]:
    """Give the rows of the sheets with these keys."""
    sheet_columns = select(
        SheetRecord.id, SheetRecord.key, SheetRecord.sheet, SheetRecord.scalars, SheetRecord.arrays
    )

    def ask(session: Session) -> list[_Kept]:
        sheets = session.execute(sheet_columns.where(SheetRecord.key.in_(digests))).mappings().all()
        kept = {int(sheet["id"]): _Kept(sheet, [], []) for sheet in sheets}
        regions = select(*RegionRecord.__table__.columns).where(RegionRecord.sheet_id.in_(kept))
        for row in session.execute(regions.order_by(RegionRecord.position)).mappings():
            kept[row["sheet_id"]].regions.append(row)
        measures = select(*MeasureRecord.__table__.columns).where(MeasureRecord.sheet_id.in_(kept))
        for row in session.execute(measures).mappings():
            kept[row["sheet_id"]].measures.append(row)
        return list(kept.values())

    yield from transaction(ledger, ask)


def _result(kept: _Kept) -> SheetResult:
    sheet = cast("dict[str, object]", json.loads(kept.sheet["sheet"]))
    rows: dict[str, dict[str, object]] = {
        region["region"]: {
            "pull": sheet.get("pull", ""),
            "scan": sheet.get("scan", ""),
            "region": region["region"],
            "work": region["work"],
            "quality": region["quality"],
        }
        for region in kept.regions
    }
    for measured in kept.measures:
        row = rows[measured["region"]]
        if measured["value"] is not None:
            row[measured["measure"]] = measured["value"]
        if measured["uncertainty"] is not None:
            row[f"u_{measured['measure']}"] = measured["uncertainty"]
    arrays = from_bytes(kept.sheet["arrays"])
    scalars = json.loads(kept.sheet["scalars"])
    return SheetResult(
        sheet=sheet,
        rows=list(rows.values()),
        histograms={
            region["region"]: json.loads(region["histogram"])
            for region in kept.regions
            if region["histogram"]
        },
        tone_picture=arrays["tone_picture"],
        laying=join(Laying, scalars["laying"], arrays, "laying"),
        paper=join(Paper, scalars["paper"], arrays, "paper"),
        corners_px=arrays["corners_px"],
        specks=scalars.get("specks", []),
        not_laid=scalars.get("not_laid", ""),
    )
