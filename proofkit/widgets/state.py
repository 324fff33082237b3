"""What the panel shows, and the steps that change it: plain values, no widgets."""

from dataclasses import dataclass, replace
from pathlib import Path

from proofkit.check import CheckResult
from proofkit.figures.series import pull_order, regions_with
from proofkit.figures.words import PRIMARY
from proofkit.folder.read import read_edition
from proofkit.report.sentences import looks_first

ALL_REGIONS = ""
"""Stands for all regions where one can be chosen."""

AS_WRITTEN = ""
"""Stands for the standard that edition.toml names."""


@dataclass(frozen=True, slots=True, eq=False)
class CheckState:
    """One edition on the panel."""

    folder: Path | None = None
    """Edition that is open; None before any is."""
    title: str = ""
    pulls: tuple[str, ...] = ()
    """In order of printing."""
    standard: str = AS_WRITTEN
    """Pull chosen as standard."""
    result: CheckResult | None = None
    """What the last check of this edition found."""
    measure: str = PRIMARY[0]
    region: str = ALL_REGIONS
    pull: str = ""
    """Sheet shown beside the standard."""
    notice: str = ""
    """One sentence for the person at the panel."""
    is_running: bool = False


def open_folder(state: CheckState, folder: Path) -> CheckState:
    """Return the panel with another edition, of which nothing has been checked yet.

    Raises
    ------
    FolderError
        If the folder is no edition that can be read.
    """
    edition = read_edition(folder)
    pulls = tuple(dict.fromkeys(pull.pull for pull in edition.pulls))
    return CheckState(folder=folder, title=edition.title, pulls=pulls, measure=state.measure)


def start_check(state: CheckState) -> CheckState:
    """Return the panel while a check runs."""
    return replace(state, is_running=True, notice="")


def take_result(state: CheckState, result: CheckResult) -> CheckState:
    """Return the panel with what a check found: its first flagged sheet and, if possible, the measure chosen before."""
    measures = measures_of(result)
    flagged = looks_first(result.measured, result.judged)
    pulls = pull_order(result.measured)
    others = [pull for pull in pulls if pull != result.measured.standard]
    return replace(
        state,
        pulls=pulls,
        result=result,
        measure=state.measure if state.measure in measures else next(iter(measures), PRIMARY[0]),
        region=ALL_REGIONS,
        pull=next(iter([*flagged, *others]), ""),
        notice=_told(result),
        is_running=False,
    )


def stop_check(state: CheckState, notice: str) -> CheckState:
    """Return the panel after a check that ended early, with the reason."""
    return replace(state, is_running=False, notice=notice)


def choose(
    state: CheckState, *, measure: str | None = None, region: str | None = None, pull: str | None = None
) -> CheckState:
    """Return the panel with another measure, region or sheet."""
    chosen = replace(
        state,
        measure=state.measure if measure is None else measure,
        region=state.region if region is None else region,
        pull=state.pull if pull is None else pull,
    )
    return (
        chosen if chosen.region in (ALL_REGIONS, *regions_of(chosen)) else replace(chosen, region=ALL_REGIONS)
    )


def choose_standard(state: CheckState, standard: str) -> CheckState:
    """Return the panel with another standard for the next check."""
    return replace(state, standard=standard)


def measures_of(result: CheckResult) -> tuple[str, ...]:
    """Return the measures that can be shown: those judged, findings first, then the usual reading order."""
    limits, found = result.judged.limits["measure"], result.judged.findings["measure"]
    judged = dict.fromkeys(str(name) for name in [*found, *PRIMARY, *limits])
    return tuple(name for name in judged if regions_with(result.measured, name))


def regions_of(state: CheckState) -> tuple[str, ...]:
    """Return the regions that have the chosen measure."""
    return () if state.result is None else regions_with(state.result.measured, state.measure)


def _told(result: CheckResult) -> str:
    sheets = len(result.measured.tone_pictures)
    left_out = f" {len(result.failures)} could not be compared." if result.failures else ""
    return f"{sheets} sheets compared, {result.new_sheets} of them measured just now.{left_out} Report: {result.report}"
