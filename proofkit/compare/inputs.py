"""What is to be compared: scans, folders of scans, or states of an edition."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from proofkit.errors import ComparisonError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.folder.settings import SETTINGS_FILE
from proofkit.scan.opening import check_ppi
from proofkit.states.types import PullOfState, Side
from proofkit.wording import pulls_listed


@dataclass(frozen=True, slots=True, eq=False)
class Chosen:
    """One side of a comparison."""

    label: str
    """As the report calls it."""
    pulls: tuple[PullOfState, ...]


def choose_side(
    side: Side,
    path: Path,
    *,
    state: str | None = None,
    pulls: Sequence[str] | None = None,
    ppi: float | None = None,
) -> Chosen:
    """Return the pulls of one side.

    Parameters
    ----------
    side : {"A", "B"}
    path : Path
        A scan, a folder of scans, or the folder of an edition.
    state : str, optional
        Take only pulls with this word in the column `state` of pulls.csv.
    pulls : sequence of str, optional
        Take only these pulls.
    ppi : float, optional
        Resolution to use instead of the files'. [px/inch]

    Raises
    ------
    ComparisonError, FolderError
        If nothing is left, or a name is not there: one line.
    """
    edition, label = _edition_of(path)
    if ppi is not None:
        wrong = check_ppi(ppi)
        if wrong:
            raise ComparisonError(
                f"{quoted(path)} was given {wrong}. Give the scanner's setting in px per inch, such as 600."
            )
        edition = replace(edition, capture=replace(edition.capture, ppi=ppi))
    chosen = edition.pulls
    if state is not None:
        label = f"state {state}"
        chosen = tuple(pull for pull in chosen if pull.notes.get("state", "") == state)
        if not chosen:
            raise ComparisonError(
                f"{quoted(path)} has no pull of state {quoted(state)}. Its pulls.csv names "
                f"{', '.join(map(quoted, states_of(edition))) or 'no states'}: give one of them."
            )
    if pulls is not None and not pulls:
        raise ComparisonError(
            f"No pull was named for state {side}. Name some with commas between, such as 1,2, or leave --pulls out."
        )
    if pulls is not None:
        known = {pull.pull: pull for pull in chosen}
        missing = [name for name in pulls if name not in known]
        if missing:
            raise ComparisonError(
                f"{quoted(path)} has no pull {', '.join(map(quoted, missing))} of {label}. "
                f"There is {', '.join(map(quoted, list(known)[:12]))}: give some of them."
            )
        chosen = tuple(known[name] for name in pulls)
        label = pulls_listed(pulls) if state is None else f"{label}, {pulls_listed(pulls)}"
    return Chosen(label, tuple(PullOfState(side, pull.pull, edition, pull) for pull in chosen))


def states_of(edition: Edition) -> list[str]:
    """Return the states that pulls.csv names, in order of printing."""
    return list(dict.fromkeys(pull.notes["state"] for pull in edition.pulls if pull.notes.get("state")))


def two_states(path: Path) -> tuple[str, str]:
    """Return the two states of an edition that has just two.

    Raises
    ------
    ComparisonError
        If it is no folder, or has one state or more than two.
    """
    if not path.is_dir():
        raise ComparisonError(
            f"One place was given, {quoted(path)}, which is no edition; two states are compared. Give a second scan or "
            "folder."
        )
    states = states_of(read_edition(path))
    if len(states) != 2:
        named = ", ".join(map(quoted, states)) or "no states"
        raise ComparisonError(
            f"One place was given, {quoted(path)}, and its pulls.csv names {named}; two states are compared. Name them "
            "with --states I II, or give a second scan or folder."
        )
    return states[0], states[1]


def _edition_of(path: Path) -> tuple[Edition, str]:
    if path.is_dir():
        return read_edition(path), path.absolute().name
    if not path.exists():
        raise ComparisonError(
            f"{quoted(path)} does not exist. Give a scan, a folder of scans or the folder of an edition."
        )
    # A scan inside an edition is read by that edition's tone curve and corners.
    for folder in (path.absolute().parent, path.absolute().parent.parent):
        if (folder / SETTINGS_FILE).is_file():
            edition = read_edition(folder)
            own = [pull for pull in edition.pulls if edition.scan_path(pull).absolute() == path.absolute()]
            pull = own[0] if own else Pull(path.stem, str(path.absolute()))
            return replace(edition, pulls=(pull,)), path.stem
    loose = Pull(path.stem, str(path.absolute()))
    return Edition(path.absolute().parent, path.stem, (loose,), (), None), path.stem
