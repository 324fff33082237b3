"""A technique study from its folder to the write-up."""

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from proofkit.check.results import prepare_out
from proofkit.document.html import to_html
from proofkit.document.latex import to_latex
from proofkit.document.markdown import to_markdown
from proofkit.errors import FolderError
from proofkit.folder.read import check_folder
from proofkit.folder.writing import write_text
from proofkit.progress import Progress, silent
from proofkit.study.analysis import Analysis, analyse
from proofkit.study.experiment import read_experiment
from proofkit.study.found import Found
from proofkit.study.found_methods import found_methods
from proofkit.study.gradient import Tilt, tilts
from proofkit.study.methods import methods_sentences
from proofkit.study.observing import Observed, observe
from proofkit.study.pictures import draw_all
from proofkit.study.settings import StudySettings, read_study_settings
from proofkit.study.strips import Comparison, Strip, strips
from proofkit.study.tables import write_tables
from proofkit.study.writeup import write_up

FOLDER_NAME = "study"
PAGE_NAME = "write_up"


@dataclass(frozen=True, slots=True, eq=False)
class StudyResult:
    """What a study found and where it was written."""

    analysis: Analysis
    relative: tuple[str, ...]
    """Responses whose effects are proportions."""
    strips: tuple[Strip, ...]
    comparisons: tuple[Comparison, ...]
    tilts: tuple[tuple[str, Tilt], ...]
    """Plate and tilt."""
    observations: pd.DataFrame
    left_out: dict[str, str]
    remarks: tuple[str, ...]
    figures: dict[str, Path]
    """Caption -> path of the figure without its ending; SVG, PDF and PNG lie there."""
    page: Path
    """HTML; Markdown and LaTeX lie beside it, tables in the folder data."""


def study(
    folder: Path | str,
    *,
    out: Path | str | None = None,
    ledger_url: str | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> StudyResult:
    """Analyse an experiment and write it up.

    Parameters
    ----------
    folder : Path or str
        Holds experiment.csv, and where there are any study.toml and the editions: the folder itself, or for a column
        plate folders of that name in it or in plates/.
    out : Path or str, optional
        Folder for the results, results/study in the folder when left out.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in each edition when left out.
    workers : int, optional
        Sheets measured at once.
    progress : callable, optional
        Called as ``progress(what, done, total)``.

    Raises
    ------
    ProofkitError
        If nothing could be done: what is wrong, what is allowed, what to do.
    """
    folder = Path(folder)
    check_folder(folder)
    settings = read_study_settings(folder)
    experiment = read_experiment(folder, settings)
    results = prepare_out(folder / "results" / FOLDER_NAME if out is None else Path(out))
    observed = observe(folder, experiment, settings, ledger_url, workers, progress or silent)
    table = _wanted(observed.table, settings)
    analysis = analyse(table, experiment, settings, observed.responses, _single_u(observed))
    bitten, compared, unbitten = strips(table, experiment, settings, observed.responses)
    tilted, untilted = _tilts(observed, settings)
    remarks = (
        *experiment.remarks,
        *settings.remarks,
        *observed.remarks,
        *analysis.remarks,
        *unbitten,
        *untilted,
    )
    found = Found(experiment, settings, observed, table, analysis, bitten, compared, tilted, remarks)
    figures = draw_all(found, results / "figures")
    methods = methods_sentences(settings.methods, found_methods(observed, analysis, experiment.responses))
    page = write_up(
        found, _title(folder, observed), methods, [(stem, text) for text, stem in figures.items()]
    )
    write_tables(found, page.title, results / "data")
    write_text(results / f"{PAGE_NAME}.md", to_markdown(page, results))
    write_text(results / f"{PAGE_NAME}.tex", to_latex(page, results))
    where = write_text(results / f"{PAGE_NAME}.html", to_html(page))
    return StudyResult(
        analysis,
        settings.relative,
        bitten,
        compared,
        tilted,
        table,
        observed.left_out,
        remarks,
        figures,
        where,
    )


def _wanted(table: pd.DataFrame, settings: StudySettings) -> pd.DataFrame:
    if not settings.regions or "region" not in table.columns:
        return table
    kept = table[table["region"].isin(settings.regions)]
    if kept.empty:
        raise FolderError(
            f"study.toml: none of the regions {', '.join(settings.regions)} was measured. There are "
            f"{', '.join(sorted(set(table['region'])))}."
        )
    return kept


def _single_u(observed: Observed) -> dict[tuple[str, str], float]:
    """Return the re-lay scatter of one scan by response and region."""
    return {
        (str(row["measure"]), str(row["region"])): float(row["relay_sd"])
        for measured in observed.measured.values()
        for _, row in measured.repeatability.iterrows()
    }


def _tilts(
    observed: Observed, settings: StudySettings
) -> tuple[tuple[tuple[str, Tilt], ...], tuple[str, ...]]:
    found: list[tuple[str, Tilt]] = []
    remarks: list[str] = []
    for plate, measured in observed.measured.items():
        here, said = tilts(measured.regions, settings.tipped, measured.tone_pictures)
        found += [(plate, tilt) for tilt in here]
        remarks += [f"{plate}: {remark}" if plate else remark for remark in said]
    if settings.tipped and not observed.measured:
        remarks.append("Tipped bath: there are no scans in this study.")
    return tuple(found), tuple(remarks)


def _title(folder: Path, observed: Observed) -> str:
    titles = [measured.edition.title for measured in observed.measured.values()]
    return titles[0] if len(titles) == 1 else folder.absolute().name.replace("_", " ")
