"""The tables of a study, and what their columns mean."""

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from proofkit.check.results import prepare_out
from proofkit.columns import (
    BATHS,
    COURSES,
    EFFECTS,
    MEASURES,
    REPEATABILITY,
    RESIDUALS,
    SUMMARY,
    TILTS,
    Column,
    Kind,
    make_table,
)
from proofkit.study.experiment import Experiment
from proofkit.study.found import Found
from proofkit.study.gradient import Tilt
from proofkit.study.package import Resource, write_package
from proofkit.study.parts import ORDER
from proofkit.study.strips import baths_table, courses_table

KEYS = {"plate": "which plate", "pull": "impression in order of printing", "region": "name of the region"}
"""What the keys of the observations mean."""


def write_tables(found: Found, title: str, folder: Path) -> None:
    """Write all tables of a study with their data dictionary; empty ones are left out.

    Raises
    ------
    FolderError
        If a file cannot be written.
    """
    observed, analysis = found.observed, found.analysis
    columns = observation_columns(found.table, found.experiment, observed.responses)
    kept = [one.repeatability for one in observed.measured.values() if not one.repeatability.empty]
    relays = pd.concat(kept) if kept else make_table([], REPEATABILITY)
    resources = [
        Resource("observations", found.table, columns, "Every reading with its settings."),
        Resource("effects", analysis.effects, EFFECTS, "Effects of the factors."),
        Resource(
            "summary", analysis.summary, SUMMARY, "Mean, spread, number and uncertainty of each setting."
        ),
        Resource("residuals", analysis.residuals, RESIDUALS, "Checks of what the models leave over."),
        Resource("courses", courses_table(found.strips), COURSES, "Step-bite strips over time."),
        Resource("baths", baths_table(found.comparisons), BATHS, "Baths against each other."),
        Resource("tilts", _tilts_table(found.tilts), TILTS, "Slopes that all pulls share."),
        Resource(
            "repeatability", relays, REPEATABILITY, "How far the same sheets repeat when laid down again."
        ),
    ]
    filled = [one for one in resources if len(one.table) or one.name in ("observations", "effects")]
    write_package(prepare_out(folder), title, found.settings.question or "A technique study.", filled)


def _tilts_table(tilted: tuple[tuple[str, Tilt], ...]) -> pd.DataFrame:
    rows: list[dict[str, object]] = [
        {
            "plate": plate, "region": tilt.region, "across_density": tilt.across_density,
            "u_across_density": tilt.u_density, "direction_deg": tilt.direction_deg, "pulls": float(len(tilt.pulls)),
            "p_value": tilt.p, "detectable": tilt.detectable_density,
        }
        for plate, tilt in tilted
    ]  # fmt: skip
    return make_table(rows, TILTS)


def observation_columns(
    table: pd.DataFrame, experiment: Experiment, responses: tuple[str, ...]
) -> tuple[Column, ...]:
    """Return the columns of the observations: keys, order, factors and responses, each with its meaning."""
    known: Mapping[str, Column] = {column.name: column for column in MEASURES}
    columns = [Column(key, "text", "-", meaning) for key, meaning in KEYS.items() if key in table.columns]
    columns.append(Column(ORDER, "number", "-", "place in the order of the work"))
    for factor in experiment.factors:
        kind: Kind = "number" if factor.kind == "number" else "text"
        columns.append(Column(factor.name, kind, factor.unit or "-", f"factor: {factor.label}"))
    for name in responses:
        is_measured = name in known and name not in experiment.responses
        columns.append(
            known[name] if is_measured else Column(name, "number", "-", "response measured by hand")
        )
    return tuple(columns)
