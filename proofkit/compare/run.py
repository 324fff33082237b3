"""The command `compare`: two states of a plate."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from proofkit.check.results import prepare_out, write_table
from proofkit.columns import CHANGED_AREAS, CHANGES, COMPARED
from proofkit.compare.inputs import Chosen, choose_side, two_states
from proofkit.compare.tables import areas_table, changes_table, compared_table
from proofkit.errors import ComparisonError
from proofkit.folder.naming import natural_key
from proofkit.progress import Progress
from proofkit.report.states_page import write_states_report
from proofkit.states.comparison import ComparedStates, compare_states
from proofkit.wording import listed


@dataclass(frozen=True, slots=True, eq=False)
class StatesResult:
    """Two states compared, with everything that was written."""

    verdict: str
    """`no change`, `changed` or `not the same plate`."""
    pulls: pd.DataFrame
    """Table `compared`."""
    changes: pd.DataFrame
    """Table `changes`."""
    areas: pd.DataFrame
    """Table `changed_areas`."""
    compared: ComparedStates
    labels: tuple[str, str]
    out: Path
    report: Path

    @property
    def left_out(self) -> dict[str, str]:
        """Scan -> why it was not compared."""
        rows = self.pulls[self.pulls["relation"].isin(["not comparable", "not the same plate"])]
        return {str(row["scan"]): str(row["reason"]) for _, row in rows.iterrows()}


def compare(
    a: str | Path,
    b: str | Path | None = None,
    *,
    states: tuple[str, str] | None = None,
    pulls: tuple[Sequence[str], Sequence[str]] | None = None,
    ppi: tuple[float | None, float | None] = (None, None),
    out: str | Path | None = None,
    progress: Progress | None = None,
) -> StatesResult:
    """Compare two states of a plate and write tables, picture and report.

    Parameters
    ----------
    a, b : path
        The earlier and the later state: each a scan, a folder of scans, or the folder of an edition. Without `b` both
        states are of the edition in `a`.
    states : (str, str), optional
        Words of the column `state` in pulls.csv. Without them, an edition given alone must have just two.
    pulls : (list, list), optional
        Pulls to take of each.
    ppi : (float, float), optional
        Resolution to use instead of the files'. [px/inch]
    out : path, optional
        Folder for the results; by default a folder beside the edition's others, or in the current one.

    Returns
    -------
    StatesResult

    Raises
    ------
    ProofkitError
        If nothing could be compared: one line.
    """
    sides = _sides(Path(a), None if b is None else Path(b), states, pulls, ppi)
    folder = prepare_out(Path(out) if out is not None else _default_out(Path(a), b is None, sides))
    total, done = sum(len(side.pulls) for side in sides), 0

    def tell(name: str) -> None:
        nonlocal done
        if progress is not None:
            progress(f"reading {name}", done, total)
        done += 1

    compared = compare_states(sides[0].pulls, sides[1].pulls, tell)
    labels = (sides[0].label, sides[1].label)
    tables = compared_table(compared), changes_table(compared), areas_table(compared)
    for name, table, columns in zip(
        ("compared", "changes", "changed_areas"), tables, (COMPARED, CHANGES, CHANGED_AREAS), strict=True
    ):
        write_table(folder, name, table, columns)
    report = folder / "report.html"
    write_states_report(compared, labels, tables, report)
    return StatesResult(compared.verdict, *tables, compared, labels, folder, report)


def _sides(
    a: Path,
    b: Path | None,
    states: tuple[str, str] | None,
    pulls: tuple[Sequence[str], Sequence[str]] | None,
    ppi: tuple[float | None, float | None],
) -> tuple[Chosen, Chosen]:
    if b is None and states is None and pulls is None:
        states = two_states(a)
    state_a, state_b = states or (None, None)
    pulls_a, pulls_b = pulls or (None, None)
    first = choose_side("A", a, state=state_a, pulls=pulls_a, ppi=ppi[0])
    second = choose_side("B", b or a, state=state_b, pulls=pulls_b, ppi=ppi[1])
    shared = {pull.edition.scan_path(pull.pull).resolve() for pull in first.pulls} & {
        pull.edition.scan_path(pull.pull).resolve() for pull in second.pulls
    }
    if shared:
        names = listed(sorted((path.name for path in shared), key=natural_key))
        stand = "stands" if len(shared) == 1 else "stand"
        raise ComparisonError(
            f"{names} {stand} on both sides. Give two different scans, folders, states or pulls."
        )
    return first, second


def _default_out(a: Path, is_edition: bool, sides: tuple[Chosen, Chosen]) -> Path:  # noqa: FBT001  # private
    name = "compare_" + "_".join(
        "".join(sign if sign.isalnum() or sign in "-." else "_" for sign in side.label) for side in sides
    )
    return a / "results" / name if is_edition and a.is_dir() else Path(name)
