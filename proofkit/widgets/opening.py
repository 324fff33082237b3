"""Open the bench on a folder: the notebook that fits it, in a JupyterLab of this machine."""

import os
import shutil
import subprocess
import sys
import tempfile
from importlib import metadata
from pathlib import Path

from proofkit.errors import FolderError
from proofkit.folder.edition import Edition
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition

NOTEBOOKS: dict[str, str] = {
    "check": "1_check_an_edition.ipynb",
    "choose": "2_choose_the_standard.ipynb",
    "compare": "3_compare_states.ipynb",
    "study": "4_technique_study.ipynb",
}
"""The four jobs, by the command that does the same without a notebook."""

FOLDER_VARIABLE = "PROOFKIT_FOLDER"
"""Environment variable by which a notebook is told its edition."""

RESULTS_VARIABLE = "PROOFKIT_RESULTS"
"""Environment variable that names the folder for copies of samples."""

EXPERIMENT_FILES = ("experiment.csv", "relays.csv")
"""Tables of a technique study or a study of repeatability, beside pulls.csv."""


def fitting_job(edition: Edition) -> str:
    """Return the job that an edition's files ask for.

    A table of an experiment asks for a study, several states for a comparison, trial proofs without a named standard
    for its choice; everything else is an edition to be checked.
    """
    if any((edition.folder / name).is_file() for name in EXPERIMENT_FILES):
        return "study"
    states = {pull.notes.get("state", "") for pull in edition.pulls} - {""}
    if len(states) > 1:
        return "compare"
    kinds = {pull.notes.get("kind", "") for pull in edition.pulls}
    return "choose" if edition.standard is None and (edition.wishes or kinds == {"trial proof"}) else "check"


def notebooks_folder() -> Path:
    """Return where the notebooks lie: beside the package in a clone, else where the installer put them.

    Raises
    ------
    FolderError
        If they are in neither place.
    """
    beside = Path(__file__).parents[2] / "notebooks"
    for folder in (beside, *_installed_folders()):
        if (folder / NOTEBOOKS["check"]).is_file():
            return folder
    raise FolderError(
        f"The notebooks are not in {beside}. Install proofkit again, or work in a clone of its repository."
    )


def _installed_folders() -> list[Path]:
    """Return where the installer says that it put the notebooks; only it knows, as each scheme has its own place."""
    try:
        files = metadata.files("proofkit") or []
    except metadata.PackageNotFoundError:
        return []
    return [Path(str(file.locate())).resolve().parent for file in files if file.name == NOTEBOOKS["check"]]


def prepare_notebook(folder: Path, job: str | None = None) -> Path:
    """Return the notebook for a folder, copied into its results so that what is changed in it stays there.

    Parameters
    ----------
    folder : Path
        The edition.
    job : str, optional
        `check`, `choose`, `compare` or `study`; the one that fits the files when left out.

    Raises
    ------
    FolderError
        If the folder is no edition, or there is no such notebook, or it cannot be written.
    """
    edition = read_edition(folder)
    chosen = job or fitting_job(edition)
    source = notebooks_folder() / NOTEBOOKS[chosen]
    if not source.is_file():
        raise FolderError(f"There is no notebook for the job {quoted(chosen)} in {source.parent}.")
    copy = folder / "results" / "bench" / source.name
    try:
        copy.parent.mkdir(parents=True, exist_ok=True)
        if not copy.is_file():
            shutil.copyfile(source, copy)
    except OSError as error:
        raise FolderError(
            f"{copy} cannot be written ({error.strerror}). Make its folder writable."
        ) from error
    return copy


def lab_command(notebook: Path, *, with_browser: bool) -> list[str]:
    """Return the command that serves a notebook on this machine only, with a fresh token."""
    command = [
        sys.executable,
        "-m",
        "jupyterlab",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.root_dir={notebook.parent}",
        f"--LabApp.default_url=/doc/tree/{notebook.name}",
        "--LabApp.news_url=None",
        "--ServerApp.answer_yes=True",  # Ctrl-C ends it without another question: nothing is lost by that
    ]
    if hasattr(os, "geteuid") and os.geteuid() == 0:
        command.append("--allow-root")
    return command if with_browser else [*command, "--no-browser"]


def open_bench(folder: Path, job: str | None = None, *, with_browser: bool = True) -> int:
    """Serve the bench for a folder until it is stopped; return the exit code of the server.

    Raises
    ------
    FolderError
        If the folder is no edition.
    """
    notebook = prepare_notebook(folder, job)
    environment = os.environ | {FOLDER_VARIABLE: str(folder.absolute())}
    command = lab_command(notebook, with_browser=with_browser)
    with subprocess.Popen(command, env=environment) as server:  # noqa: S603 -- our own command
        try:
            return server.wait()
        except KeyboardInterrupt:  # the server has heard it too, and ends its kernels first
            server.wait()
            return 0


def edition_for(job: str) -> Path:
    """Return the folder that a notebook works on.

    That is the one it was opened on by ``proofkit bench``, else a copy of the sample for this job: samples are
    left as they are. The copy lies in the folder that the variable PROOFKIT_RESULTS names, else in a new one.

    Parameters
    ----------
    job : str
        `check`, `choose`, `compare` or `study`.

    Raises
    ------
    FolderError
        If there is neither a folder nor a sample.
    """
    if given := os.environ.get(FOLDER_VARIABLE):
        return Path(given)
    for settings in sorted((notebooks_folder().parent / "sample_scans").glob("*/edition.toml")):
        sample = settings.parent
        if fitting_job(read_edition(sample)) == job:
            results = os.environ.get(RESULTS_VARIABLE) or tempfile.mkdtemp(prefix="bench_")
            copy = Path(results) / sample.name
            if not copy.exists():
                shutil.copytree(sample, copy, copy_function=shutil.copyfile)
            return copy
    raise FolderError(
        f"There is no sample for the job {quoted(job)}. Open one of your folders: proofkit bench FOLDER."
    )
