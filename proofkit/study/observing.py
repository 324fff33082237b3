"""From an experiment and its measured sheets to one table of observations."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path, PurePath

import numpy as np
import pandas as pd

from proofkit.check.measuring import measure_pile
from proofkit.columns import MEASURES, names
from proofkit.edition import MeasuredEdition
from proofkit.errors import FolderError
from proofkit.figures.words import PRIMARY
from proofkit.folder.edition import Edition
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.ledger.connection import LEDGER_FILE, close_ledger, open_ledger
from proofkit.progress import Progress
from proofkit.quality import Quality, from_words
from proofkit.study.experiment import EXPERIMENT_FILE, Experiment
from proofkit.study.parts import ORDER
from proofkit.study.settings import SETTINGS_FILE, StudySettings

PLATES = "plates"
"""Folder in which the editions of an experiment with several plates lie."""

NOT_LAID = Quality.OTHER_PLATE | Quality.BLANK | Quality.MISFIT
"""Flags of a sheet that is not laid on the standard, so that its measures are of something else."""


@dataclass(frozen=True, slots=True, eq=False)
class Observed:
    """Everything that was read for a study."""

    table: pd.DataFrame
    """One row per reading: keys that there are, `order`, factors, responses."""
    responses: tuple[str, ...]
    measured: dict[str, MeasuredEdition]
    """Plate -> its measured edition; the key is empty where there is one plate, and all is empty without scans."""
    left_out: dict[str, str]
    """Pull (with its plate) -> why it could not be measured."""
    remarks: tuple[str, ...]


def observe(
    folder: Path,
    experiment: Experiment,
    settings: StudySettings,
    ledger_url: str | None,
    workers: int | None,
    progress: Progress,
) -> Observed:
    """Measure what an experiment asks for and join it with the settings.

    Raises
    ------
    ProofkitError
        If a name is not known (one line each), or nothing can be measured.
    """
    _check_responses(experiment, settings)
    asked = [name for name in settings.responses if name not in experiment.responses]
    if not asked and experiment.responses:
        table = experiment.table.assign(**{ORDER: np.arange(len(experiment.table), dtype=np.float64)})
        return Observed(table, experiment.responses, {}, {}, ())
    if not experiment.keys:
        raise FolderError(
            f"{EXPERIMENT_FILE} has no column pull, plate or region, so that no measurement goes with its settings. "
            f"Add one, or name columns of it as responses in {SETTINGS_FILE}."
        )
    editions = _editions(folder, experiment)
    _check_names(editions, experiment)
    measured: dict[str, MeasuredEdition] = {}
    left_out: dict[str, str] = {}
    for plate, edition in editions.items():
        ledger = open_ledger(ledger_url or edition.folder / LEDGER_FILE, edition.title if ledger_url else "")
        try:
            measured[plate] = measure_pile(edition, ledger, workers, progress).measured
        finally:
            close_ledger(ledger)
        lead = f"{plate}: " if plate else ""
        left_out |= {f"{lead}{pull}": why for pull, why in measured[plate].failures.items()}
    table, unlaid = _joined(measured, experiment)
    left_out |= unlaid
    responses = _responses(table, settings, experiment)
    if table.empty or not responses:
        raise FolderError(
            f"No measured sheet goes with a row of {EXPERIMENT_FILE}, or none of the responses was measured. Check "
            "the names."
        )
    return Observed(table, responses, measured, left_out, _not_asked(measured, experiment, settings))


def _check_responses(experiment: Experiment, settings: StudySettings) -> None:
    known = {*names(MEASURES), *experiment.responses}
    problems = [
        f"{SETTINGS_FILE}: response {quoted(name)} is neither a column of {EXPERIMENT_FILE} nor a measure. Allowed "
        "are the columns of measurements.csv, such as line_load_um."
        for name in settings.responses
        if name not in known
    ]
    problems += [
        f"{SETTINGS_FILE}: relative names {quoted(name)}, which is no response. Name it among the responses."
        for name in settings.relative
        if name not in (settings.responses or PRIMARY)
    ]
    factors = {factor.name for factor in experiment.factors}
    asked = [("interactions", name) for pair in settings.interactions for name in pair]
    asked += [("factors", name) for name in settings.factors if name not in experiment.table.columns]
    asked += [("step_bite", name) for name in (settings.bite_time, settings.bath) if name]
    problems += [
        f"{SETTINGS_FILE}: {where} names {quoted(name)}, which is no factor of {EXPERIMENT_FILE} that varies. There "
        f"are {', '.join(sorted(factors))}."
        for where, name in asked
        if name not in factors
    ]
    if problems:
        raise FolderError("\n".join(problems))


def _editions(folder: Path, experiment: Experiment) -> dict[str, Edition]:
    if "plate" not in experiment.keys:
        return {"": read_edition(folder)}
    found = {}
    for plate in dict.fromkeys(experiment.table["plate"]):
        if PurePath(plate).name != plate or plate in (".", ".."):
            raise FolderError(
                f"{EXPERIMENT_FILE}: plate {quoted(plate)} is no name of a folder. Give a plain name."
            )
        there = next((place for place in (folder / PLATES / plate, folder / plate) if place.is_dir()), None)
        if there is None:
            raise FolderError(
                f"{EXPERIMENT_FILE}: plate {quoted(plate)} has no folder of its name in {PLATES}/. Put its edition "
                "there."
            )
        found[plate] = read_edition(there)
    return found


def _check_names(editions: Mapping[str, Edition], experiment: Experiment) -> None:
    problems = []
    table = experiment.table.assign(plate=experiment.table["plate"] if "plate" in experiment.keys else "")
    for plate, edition in editions.items():
        rows = table[table["plate"] == plate]
        where = f"plate {quoted(plate)}" if plate else "pulls.csv"
        for key, known in (
            ("pull", [pull.pull for pull in edition.pulls]),
            ("region", [region.name for region in edition.regions]),
        ):
            if key not in experiment.keys or not known:
                continue
            problems += [
                f"{EXPERIMENT_FILE}: {key} {quoted(name)} is not in {where if key == 'pull' else 'regions.csv'}. "
                f"There are {', '.join(known[:8])}."
                for name in dict.fromkeys(rows[key])
                if name not in known
            ]
    if problems:
        raise FolderError("\n".join(problems))


def _joined(
    measured: Mapping[str, MeasuredEdition], experiment: Experiment
) -> tuple[pd.DataFrame, dict[str, str]]:
    """Return measurements with their settings; sheets that were not laid on the standard are left out."""
    parts: list[pd.DataFrame] = []
    unlaid: dict[str, str] = {}
    for plate, edition in measured.items():
        bad = {
            str(pull): f"not laid on the standard ({quality})"
            for pull, quality in zip(edition.sheets["pull"], edition.sheets["quality"], strict=True)
            if from_words(str(quality)) & NOT_LAID
        }
        unlaid |= {f"{plate}: {pull}" if plate else pull: why for pull, why in bad.items()}
        order = {pull.pull: float(place) for place, pull in enumerate(edition.edition.pulls)}
        rows = edition.measurements[~edition.measurements["pull"].isin(list(bad))]
        parts.append(rows.assign(plate=plate, **{ORDER: rows["pull"].map(order).astype("float64")}))
    rows = pd.concat(parts, ignore_index=True)
    joined = rows.merge(experiment.table, on=list(experiment.keys), how="inner")
    return joined.drop(columns="plate") if list(measured) == [""] else joined, unlaid


def _responses(table: pd.DataFrame, settings: StudySettings, experiment: Experiment) -> tuple[str, ...]:
    asked = settings.responses or PRIMARY
    usable = [name for name in asked if name in experiment.responses or table[name].notna().any()]
    if settings.responses:
        return tuple(usable)
    # What does not move at all, such as hatching that prints whole everywhere, is no response to ask about.
    return tuple(name for name in usable if np.ptp(table[name].dropna()) > 0)


def _not_asked(
    measured: Mapping[str, MeasuredEdition], experiment: Experiment, settings: StudySettings
) -> tuple[str, ...]:
    said = []
    if "pull" in experiment.keys:
        named = set(experiment.table["pull"])
        others = [
            pull.pull
            for edition in measured.values()
            for pull in edition.edition.pulls
            if pull.pull not in named
        ]
        if others:
            said.append(f"Measured, but not in {EXPERIMENT_FILE}: {', '.join(dict.fromkeys(others))}.")
    for name in settings.responses:
        if name not in experiment.responses and not any(
            m.measurements[name].notna().any() for m in measured.values()
        ):
            said.append(f"{name} could not be measured on any sheet; see the quality column of measurements.")
    return tuple(said)
