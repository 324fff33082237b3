"""Every column of every table, declared once: name, kind, unit, meaning.

The tables are pandas DataFrames and CSV/Parquet files with exactly these columns in this order. DEVELOPERS.md
shows the same list and a test holds the two together.
"""

from proofkit.columns.chosen import CHOICE_CANDIDATES, CHOICE_DIFFERENCES, CHOICE_WISHES
from proofkit.columns.column import Column, Kind, make_table, names
from proofkit.columns.compared import CHANGED_AREAS, CHANGES, COMPARED, CONTOURS, DEPARTURES, DRAWING
from proofkit.columns.judged import CAUSES, DECISIONS, FIGURES, FINDINGS, JUDGEMENT, PLACES, VERDICTS
from proofkit.columns.measured import MEASUREMENTS, REPEATABILITY, SHEETS, SPECKS
from proofkit.columns.measures import (
    LINE_MEASURES,
    MEASURES,
    PLATE_TONE_MEASURES,
    TONE_MEASURES,
    UNCERTAINTIES,
)
from proofkit.columns.recorded import NUMBERING, PULL_LOG, RECONCILIATION
from proofkit.columns.registry import TABLES
from proofkit.columns.studied import BATHS, COURSES, EFFECTS, RESIDUALS, SUMMARY, TILTS

__all__ = [
    "BATHS",
    "CAUSES",
    "CHANGED_AREAS",
    "CHANGES",
    "CHOICE_CANDIDATES",
    "CHOICE_DIFFERENCES",
    "CHOICE_WISHES",
    "COMPARED",
    "CONTOURS",
    "COURSES",
    "DECISIONS",
    "DEPARTURES",
    "DRAWING",
    "EFFECTS",
    "FIGURES",
    "FINDINGS",
    "JUDGEMENT",
    "LINE_MEASURES",
    "MEASUREMENTS",
    "MEASURES",
    "NUMBERING",
    "PLACES",
    "PLATE_TONE_MEASURES",
    "PULL_LOG",
    "RECONCILIATION",
    "REPEATABILITY",
    "RESIDUALS",
    "SHEETS",
    "SPECKS",
    "SUMMARY",
    "TABLES",
    "TILTS",
    "TONE_MEASURES",
    "UNCERTAINTIES",
    "VERDICTS",
    "Column",
    "Kind",
    "make_table",
    "names",
]
