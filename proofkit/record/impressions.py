"""Every pull of an edition with what is known of it, from pulls.csv, the pull log and the decisions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from proofkit.folder.edition import Pull
from proofkit.folder.naming import natural_key
from proofkit.folder.problems import quoted
from proofkit.record.designations import Designation, read_designation
from proofkit.record.kinds import Kind, find_kind, kind_fault, kinds
from proofkit.record.log import Entry
from proofkit.record.log_cells import cell_fault
from proofkit.wording import listed


@dataclass(frozen=True, slots=True)
class Impression:
    """One pull."""

    pull: str
    kind: Kind | None
    """None where no paper tells it."""
    designation: Designation
    status: str
    """A decision word; empty where nothing was decided."""
    destroyed_on: str = ""
    has_scan: bool = False
    in_log: bool = False


def impressions(
    pulls: Sequence[Pull], log: Sequence[Entry], decided: Mapping[str, str]
) -> tuple[tuple[Impression, ...], tuple[str, ...]]:
    """Return every pull that any paper names, and a sentence for each thing in which they disagree.

    Parameters
    ----------
    pulls : sequence of Pull
        Of pulls.csv.
    log : sequence of Entry
        Of pull_log.csv; it goes before pulls.csv.
    decided : mapping of str to str
        Pull -> the decision that stands; it goes before the log's status.
    """
    scanned = {pull.pull: pull.notes for pull in pulls}
    logged = {entry["pull"]: entry for entry in log}
    remarks = _said_once(pulls, logged)
    found = []
    for pull in sorted({*scanned, *logged}, key=natural_key):
        found.append(_impression(pull, scanned.get(pull), logged.get(pull), decided.get(pull, ""), remarks))
    remarks += [
        f"Pull {quoted(pull)} was decided about ({word}), but stands neither in pulls.csv nor in pull_log.csv."
        for pull, word in decided.items()
        if pull not in scanned and pull not in logged
    ]
    if log:
        missing = [one.pull for one in found if not one.in_log]
        if missing:
            remarks.append(f"Scanned, but not in pull_log.csv: {', '.join(missing)}.")
    return tuple(found), tuple(remarks)


def _said_once(pulls: Sequence[Pull], logged: Mapping[str, Entry]) -> list[str]:
    """Return what is wrong with cells of pulls.csv that the pull log does not replace, a line for all pulls alike.

    The log's own cells were checked when it was read.
    """
    wrong: dict[str, list[str]] = {}
    for pull in pulls:
        for name, fault_of in (
            ("kind", kind_fault),
            ("pulled_on", lambda cell: cell_fault("pulled_on", cell)),
        ):
            cell = pull.notes.get(name, "")
            if logged.get(pull.pull, {}).get(name) or not cell:
                continue
            if (fault := fault_of(cell)) is not None:
                wrong.setdefault(fault, []).append(pull.pull)
    return [
        f"{'Pull' if len(names) == 1 else 'Pulls'} {listed(names)} in pulls.csv: {fault}"
        for fault, names in wrong.items()
    ]


def _impression(
    pull: str, notes: Mapping[str, str] | None, entry: Entry | None, decision: str, remarks: list[str]
) -> Impression:
    noted, logged = notes or {}, entry or {}
    for name in ("kind", "designation"):
        here, there = logged.get(name, ""), noted.get(name, "")
        if here and there and _plain(name, here) != _plain(name, there):
            remarks.append(
                f"Pull {quoted(pull)}: {name} is {quoted(here)} in pull_log.csv and {quoted(there)} in pulls.csv; "
                "the log counts."
            )
    designation = read_designation(logged.get("designation") or noted.get("designation", ""))
    word = logged.get("kind") or noted.get("kind", "")
    status = logged.get("status", "")
    if decision and status and decision != status:
        remarks.append(
            f"Pull {quoted(pull)}: status is {quoted(status)} in pull_log.csv, decided was {quoted(decision)}; "
            "the decision counts."
        )
    return Impression(
        pull,
        _kind(pull, word, designation, remarks),
        designation,
        decision or status,
        logged.get("destroyed_on", ""),
        has_scan=notes is not None,
        in_log=entry is not None,
    )


def _plain(name: str, text: str) -> str:
    kind = find_kind(text) if name == "kind" else None
    return kind.name if kind else " ".join(text.split())


def _kind(pull: str, word: str, designation: Designation, remarks: list[str]) -> Kind | None:
    """Return the kind that is told in words, else the one that the designation tells."""
    told = find_kind(word) if word else None
    marked = designation.kind
    if marked is None and designation.number is not None and designation.numerals == "arabic":
        marked = next(kind for kind in kinds() if kind.name == "edition")
    if told is not None and designation.kind is not None and told != designation.kind:
        remarks.append(
            f"Pull {quoted(pull)} is called {told.name}, but marked {quoted(designation.text)}. Mend one of them."
        )
    return told or marked
