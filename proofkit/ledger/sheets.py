"""Keep measured sheets: one transaction each, found again by their key."""

import json
import math
import zipfile
from datetime import UTC, datetime
from typing import cast

from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from proofkit.columns import MEASURES, names
from proofkit.errors import LedgerError
from proofkit.laying.types import Laying
from proofkit.ledger.connection import Ledger, session_of
from proofkit.ledger.keys import SheetKey
from proofkit.ledger.models import MeasureRecord, RegionRecord, SheetRecord
from proofkit.ledger.packing import Arrays, from_bytes, join, plain, split, to_bytes, to_json
from proofkit.reflectance.types import Paper
from proofkit.sheet import SheetResult

ROW_TEXTS = ("region", "work", "quality")
"""Cells of a row that are kept as text; pull and scan are those of the folder when it is read again."""


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
    record = SheetRecord(
        key=key.digest,
        scan_sha256=key.scan_sha256,
        setup_sha256=key.setup_sha256,
        standard_sha256=key.standard_sha256,
        version=key.version,
        measured_at=datetime.now(UTC).isoformat(timespec="seconds"),
        sheet=to_json(result.sheet),
        scalars=to_json({"laying": scalars_laying, "paper": scalars_paper}),
        arrays=to_bytes(arrays),
    )
    try:
        with session_of(ledger) as session:
            if session.scalar(select(SheetRecord.id).where(SheetRecord.key == record.key)) is not None:
                return False
            session.add(record)
            session.flush()
            _add_rows(session, record.id, result)
    except LedgerError as error:
        if isinstance(error.__cause__, IntegrityError):
            # Another program wrote the same sheet between the question and the answer.
            return False
        raise
    return True


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


def find_sheet(ledger: Ledger, key: SheetKey) -> SheetResult | None:
    """Return a sheet that was measured before under the same key, None when there is none.

    The cells pull and scan of its rows are those of the run that measured it.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """
    with session_of(ledger) as session:
        record = session.scalar(select(SheetRecord).where(SheetRecord.key == key.digest))
        if record is None:
            return None
        where = RegionRecord.sheet_id == record.id
        regions = list(session.scalars(select(RegionRecord).where(where).order_by(RegionRecord.position)))
        measures = list(session.scalars(select(MeasureRecord).where(MeasureRecord.sheet_id == record.id)))
        try:
            return _result(record, regions, measures)
        except (ValueError, KeyError, TypeError, zipfile.BadZipFile, EOFError) as error:
            raise LedgerError(
                f"Ledger {ledger.name}: the sheet {key.scan_sha256[:12]}… in it cannot be read ({error}). "
                "Move the file away or put a copy back, then run again."
            ) from error


def _result(
    record: SheetRecord,
    regions: list[RegionRecord],
    measures: list[MeasureRecord],
) -> SheetResult:
    sheet = cast("dict[str, object]", json.loads(record.sheet))
    rows: dict[str, dict[str, object]] = {
        region.region: {
            "pull": sheet.get("pull", ""),
            "scan": sheet.get("scan", ""),
            "region": region.region,
            "work": region.work,
            "quality": region.quality,
        }
        for region in regions
    }
    for kept in measures:
        if kept.value is not None:
            rows[kept.region][kept.measure] = kept.value
        if kept.uncertainty is not None:
            rows[kept.region][f"u_{kept.measure}"] = kept.uncertainty
    arrays = from_bytes(record.arrays)
    scalars = json.loads(record.scalars)
    return SheetResult(
        sheet=sheet,
        rows=list(rows.values()),
        histograms={region.region: json.loads(region.histogram) for region in regions if region.histogram},
        tone_picture=arrays["tone_picture"],
        laying=join(Laying, scalars["laying"], arrays, "laying"),
        paper=join(Paper, scalars["paper"], arrays, "paper"),
        corners_px=arrays["corners_px"],
    )
