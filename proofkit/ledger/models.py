"""Tables of the ledger. Every table name begins with ``proofkit_``, so that a shared database can hold others."""

from sqlalchemy import DDL, Double, ForeignKey, Index, LargeBinary, String, Text, event
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

FORMAT = 1
"""Number of this set of tables; a ledger with another one is not touched."""


class Base(DeclarativeBase):
    """What all tables have in common: nothing but the registry."""


class MarkRecord(Base):
    """One row that says that this is a ledger, and of which format."""

    __tablename__ = "proofkit_ledger"
    format: Mapped[int] = mapped_column(primary_key=True)


class SheetRecord(Base):
    """One measured sheet: what was measured, under which key, and everything that is no measure of a region."""

    __tablename__ = "proofkit_sheets"
    id: Mapped[int] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(String(64), unique=True)
    """Digest of the four below; the same key is the same measurement."""
    scan_sha256: Mapped[str] = mapped_column(String(64), index=True)
    setup_sha256: Mapped[str] = mapped_column(String(64))
    standard_sha256: Mapped[str] = mapped_column(String(64))
    version: Mapped[str] = mapped_column(String(64))
    measured_at: Mapped[str] = mapped_column(String(32))
    """ISO 8601, UTC."""
    sheet: Mapped[str] = mapped_column(Text)
    """Row of the table `sheets` as JSON."""
    scalars: Mapped[str] = mapped_column(Text)
    """Single values of laying and paper as JSON."""
    arrays: Mapped[bytes] = mapped_column(LargeBinary)
    """Arrays of laying, paper and corners and the tone picture, as an npz archive."""


class RegionRecord(Base):
    """One region of a measured sheet."""

    __tablename__ = "proofkit_regions"
    sheet_id: Mapped[int] = mapped_column(
        ForeignKey("proofkit_sheets.id", ondelete="CASCADE"), primary_key=True
    )
    region: Mapped[str] = mapped_column(Text, primary_key=True)
    position: Mapped[int]
    work: Mapped[str] = mapped_column(String(20))
    quality: Mapped[str] = mapped_column(Text)
    histogram: Mapped[str | None] = mapped_column(Text)
    """Counts as JSON."""


class MeasureRecord(Base):
    """One measure of one region; a measure that could not be had has no row."""

    __tablename__ = "proofkit_measures"
    sheet_id: Mapped[int] = mapped_column(
        ForeignKey("proofkit_sheets.id", ondelete="CASCADE"), primary_key=True
    )
    region: Mapped[str] = mapped_column(Text, primary_key=True)
    measure: Mapped[str] = mapped_column(String(80), primary_key=True)
    value: Mapped[float | None] = mapped_column(Double)
    uncertainty: Mapped[float | None] = mapped_column(Double)


class PullRecord(Base):
    """Which measured sheet was which pull of which edition when the edition was last checked."""

    __tablename__ = "proofkit_pulls"
    __table_args__ = (Index("ix_proofkit_pulls_sheet_id", "sheet_id"),)
    edition: Mapped[str] = mapped_column(Text, primary_key=True)
    pull: Mapped[str] = mapped_column(Text, primary_key=True)
    position: Mapped[int]
    """In order of printing."""
    scan: Mapped[str] = mapped_column(Text)
    sheet_id: Mapped[int] = mapped_column(ForeignKey("proofkit_sheets.id", ondelete="CASCADE"))


class FinePictureRecord(Base):
    """A strip of the fine picture of a measured sheet."""

    __tablename__ = "proofkit_fine_pictures"
    sheet_id: Mapped[int] = mapped_column(
        ForeignKey("proofkit_sheets.id", ondelete="CASCADE"), primary_key=True
    )
    first_row: Mapped[int] = mapped_column(primary_key=True)
    codes: Mapped[bytes] = mapped_column(LargeBinary)
    """A grey PNG, 8 bit."""


class PlacesRecord(Base):
    """Places found in a set of sheets, so that the same sheets need not be looked through again."""

    __tablename__ = "proofkit_places"
    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    places: Mapped[str] = mapped_column(Text)
    """JSON."""


class StandardRecord(Base):
    """Size of the plate on a standard that was made before, so that it need not be made again."""

    __tablename__ = "proofkit_standards"
    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    plate_width_mm: Mapped[float] = mapped_column(Double)
    plate_height_mm: Mapped[float] = mapped_column(Double)


class ChoiceRecord(Base):
    """Which scan of a pile was found to be the most central one."""

    __tablename__ = "proofkit_choices"
    key: Mapped[str] = mapped_column(String(64), primary_key=True)
    scan_sha256: Mapped[str] = mapped_column(String(64))


class FileRecord(Base):
    """Hash of a file whose size and times have not changed since it was read."""

    __tablename__ = "proofkit_files"
    path: Mapped[str] = mapped_column(Text, primary_key=True)
    stamp: Mapped[str] = mapped_column(String(120))
    """Size, inode and times of the file when it was read."""
    sha256: Mapped[str] = mapped_column(String(64))


class DecisionRecord(Base):
    """One decision of a person; rows are only ever added."""

    __tablename__ = "proofkit_decisions"
    id: Mapped[int] = mapped_column(primary_key=True)
    edition: Mapped[str] = mapped_column(Text, index=True)
    pull: Mapped[str] = mapped_column(Text)
    decision: Mapped[str] = mapped_column(String(20))
    reason: Mapped[str] = mapped_column(Text)
    by: Mapped[str] = mapped_column(String(40))
    at: Mapped[str] = mapped_column(String(32))


class RepeatabilityRecord(Base):
    """The last re-lay study of an edition."""

    __tablename__ = "proofkit_repeatability"
    edition: Mapped[str] = mapped_column(Text, primary_key=True)
    made_at: Mapped[str] = mapped_column(String(32))
    """ISO 8601, UTC."""
    version: Mapped[str] = mapped_column(String(64))
    """Of the measuring program."""
    rows: Mapped[str] = mapped_column(Text)
    """Rows of the table `repeatability` as JSON."""


_NO_CHANGE_IN_SQLITE = tuple(
    f"CREATE TRIGGER proofkit_no_{verb.lower()} BEFORE {verb} ON proofkit_decisions "
    "BEGIN SELECT RAISE(ABORT, 'decisions are only ever added'); END"
    for verb in ("UPDATE", "DELETE")
)

_NO_CHANGE_IN_POSTGRES = (
    "CREATE OR REPLACE FUNCTION proofkit_no_change() RETURNS trigger LANGUAGE plpgsql AS "
    "'BEGIN RAISE EXCEPTION ''decisions are only ever added''; END'",
    "CREATE TRIGGER proofkit_no_change BEFORE UPDATE OR DELETE OR TRUNCATE ON proofkit_decisions "
    "FOR EACH STATEMENT EXECUTE FUNCTION proofkit_no_change()",
)

for _dialect, _statements in (("sqlite", _NO_CHANGE_IN_SQLITE), ("postgresql", _NO_CHANGE_IN_POSTGRES)):
    for _statement in _statements:
        event.listen(
            DecisionRecord.__table__,
            "after_create",
            DDL(_statement).execute_if(dialect=_dialect),  # type: ignore[no-untyped-call]  # SQLAlchemy has no hints
        )
