"""Write the tables of an edition as CSV and Parquet."""

import io
import math
import tempfile
from pathlib import Path

import pandas as pd

from proofkit.columns import DECISIONS, FINDINGS, JUDGEMENT, MEASUREMENTS, PLACES, SHEETS, SPECKS, Column
from proofkit.edition import MeasuredEdition
from proofkit.errors import FolderError
from proofkit.folder.writing import write_bytes
from proofkit.judgement.types import Judged

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
"""A spreadsheet takes a cell that begins so for a formula, or strips it down to one."""


def prepare_out(out: Path) -> Path:
    """Make the folder for results and try it, before any time is spent on measuring.

    Raises
    ------
    FolderError
        If it cannot be made or written.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out):
            pass
    except OSError as error:
        raise FolderError(
            f"Results cannot be written to {out} ({error.strerror}). "
            "Make it writable, or give another folder with --out."
        ) from error
    return out


def write_tables(
    measured: MeasuredEdition, judged: Judged, out: Path, *, decided: pd.DataFrame, places: pd.DataFrame
) -> list[Path]:
    """Write measurements, sheets, specks, findings, judgement, places and decisions, each as CSV and Parquet.

    Numbers are written with the digits that read back to the same float64, an empty cell is not measurable. In CSV
    a text that a spreadsheet would take for a formula begins with an apostrophe.

    Raises
    ------
    FolderError
        If a file cannot be written.
    """
    tables = (
        ("measurements", measured.measurements, MEASUREMENTS),
        ("sheets", measured.sheets, SHEETS),
        ("specks", measured.specks, SPECKS),
        ("findings", judged.findings, FINDINGS),
        ("judgement", judged.judgement, JUDGEMENT),
        ("places", places, PLACES),
        ("decisions", decided, DECISIONS),
    )
    written = []
    for name, table, columns in tables:
        written += write_table(out, name, table, columns)
    return written


def write_table(out: Path, name: str, table: pd.DataFrame, columns: tuple[Column, ...]) -> list[Path]:
    """Write one table as CSV and Parquet; see `write_tables`.

    Raises
    ------
    FolderError
        If a file cannot be written.
    """
    parquet = io.BytesIO()
    table.to_parquet(parquet, index=False)
    return [
        write_bytes(out / f"{name}.csv", csv_text(table, columns).encode("utf-8")),
        write_bytes(out / f"{name}.parquet", parquet.getvalue()),
    ]


def csv_text(table: pd.DataFrame, columns: tuple[Column, ...]) -> str:
    """Return a table as CSV text."""
    safe = table.copy()
    for column in columns:
        if column.kind == "text":
            safe[column.name] = [harmless(str(text)) for text in table[column.name]]
        elif column.kind == "flag":
            safe[column.name] = ["true" if flag else "false" for flag in table[column.name]]
        else:
            # Not left to pandas: it goes through numpy's print options, which other libraries set to fewer digits.
            safe[column.name] = [digits(float(value)) for value in table[column.name]]
    return safe.to_csv(index=False, lineterminator="\n")


def digits(value: float) -> str:
    """Return the shortest digits that read back to the same float64; nothing for NaN.

    >>> digits(0.1 + 0.2), digits(float("nan"))
    ('0.30000000000000004', '')
    """
    return "" if math.isnan(value) else repr(value)


def harmless(text: str) -> str:
    """Return a text that no spreadsheet runs as a formula.

    >>> harmless("=1+1"), harmless("sky")
    ("'=1+1", 'sky')
    """
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text
