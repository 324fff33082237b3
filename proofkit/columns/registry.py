"""All tables by name."""

from proofkit.columns.chosen import CHOICE_CANDIDATES, CHOICE_DIFFERENCES, CHOICE_WISHES
from proofkit.columns.column import Column
from proofkit.columns.compared import CHANGED_AREAS, CHANGES, COMPARED, CONTOURS, DEPARTURES, DRAWING
from proofkit.columns.judged import DECISIONS, FINDINGS, JUDGEMENT, PLACES
from proofkit.columns.measured import MEASUREMENTS, REPEATABILITY, SHEETS, SPECKS
from proofkit.columns.recorded import NUMBERING, PULL_LOG, RECONCILIATION
from proofkit.columns.studied import BATHS, COURSES, EFFECTS, RESIDUALS, SUMMARY, TILTS

TABLES: dict[str, tuple[Column, ...]] = {
    "measurements": MEASUREMENTS,
    "sheets": SHEETS,
    "specks": SPECKS,
    "findings": FINDINGS,
    "judgement": JUDGEMENT,
    "places": PLACES,
    "decisions": DECISIONS,
    "choice_candidates": CHOICE_CANDIDATES,
    "choice_wishes": CHOICE_WISHES,
    "choice_differences": CHOICE_DIFFERENCES,
    "repeatability": REPEATABILITY,
    "effects": EFFECTS,
    "summary": SUMMARY,
    "residuals": RESIDUALS,
    "courses": COURSES,
    "baths": BATHS,
    "tilts": TILTS,
    "pull_log": PULL_LOG,
    "reconciliation": RECONCILIATION,
    "numbering": NUMBERING,
    "compared": COMPARED,
    "changes": CHANGES,
    "changed_areas": CHANGED_AREAS,
    "drawing": DRAWING,
    "contours": CONTOURS,
    "departures": DEPARTURES,
}
