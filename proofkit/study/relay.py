"""The re-lay study of an edition: measure sheets laid down again, keep how far they repeat, say so."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from proofkit.check.measuring import measure_pile
from proofkit.check.results import prepare_out, write_table
from proofkit.check.setting_out import choose_standard, missing_scans
from proofkit.columns import REPEATABILITY
from proofkit.document.html import to_html
from proofkit.edition import MeasuredEdition
from proofkit.errors import FolderError, ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.folder.writing import write_text
from proofkit.judgement.relay import relay_gate
from proofkit.ledger.connection import LEDGER_FILE, Ledger, close_ledger, open_ledger
from proofkit.ledger.repeatability import save_repeatability
from proofkit.progress import Progress, silent
from proofkit.quality import from_words
from proofkit.study.agreement import Between, agreements
from proofkit.study.observing import NOT_LAID
from proofkit.study.relay_page import relay_page
from proofkit.study.relays import RELAYS_FILE, Relay, read_relays
from proofkit.study.repeatability import repeatability_table
from proofkit.study.same_sheet import strangers

PAGE_FILE = "repeatability.html"


@dataclass(frozen=True, slots=True, eq=False)
class RelayResult:
    """What a re-lay study found and where it wrote it."""

    table: pd.DataFrame
    """Table `repeatability`."""
    lays: pd.DataFrame
    """One row per scan that counts: sheet, scan, day, operator; indexed by the name of the scan."""
    left_out: dict[str, str]
    """Scan -> the one line that says why it does not count."""
    gate: tuple[str, ...]
    """Why no sheet of this edition can be flagged; empty when the scans repeat well enough."""
    remarks: tuple[str, ...]
    """What limits the study, one sentence each."""
    agreements: tuple[Between, ...]
    """How each two operators, or else days, agree."""
    page: Path


def relay_study(
    folder: Path | str,
    *,
    out: Path | str | None = None,
    ledger_url: str | None = None,
    workers: int | None = None,
    progress: Progress | None = None,
) -> RelayResult:
    """Measure the scans of relays.csv and keep how far the same sheet repeats, for judgement and write-ups.

    Parameters
    ----------
    folder : Path or str
        An edition with relays.csv: columns pull, scan and, where told, day and operator.
    out : Path or str, optional
        Folder for the results, results/ in the edition when left out.
    ledger_url : str, optional
        File or database address of the ledger, ledger.sqlite in the edition when left out.
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
    edition = read_edition(folder)
    relays = read_relays(edition)
    results = prepare_out(folder / "results" if out is None else Path(out))
    ledger = open_ledger(ledger_url or folder / LEDGER_FILE, edition.title if ledger_url else "")
    try:
        measured, lays = _measure(edition, relays, ledger, workers, progress or silent)
        result = _study(measured, lays, edition, results / PAGE_FILE)
        save_repeatability(ledger, result.table)
    finally:
        close_ledger(ledger)
    write_table(results, "repeatability", result.table, REPEATABILITY)
    page = relay_page(edition.title, result.table, result.lays, _said(result), result.agreements)
    write_text(result.page, to_html(page))
    return result


def _said(result: RelayResult) -> tuple[str, ...]:
    apart = tuple(f"{scan} {why}." for scan, why in result.left_out.items())
    return (*(f"No flags: {reason}" for reason in result.gate), *result.remarks, *apart)


def _measure(
    edition: Edition,
    relays: tuple[Relay, ...],
    ledger: Ledger,
    workers: int | None,
    progress: Callable[[str, int, int], None],
) -> tuple[MeasuredEdition, pd.DataFrame]:
    """Return the relays measured on the edition's own standard, each as a pull that is named after its scan."""
    standard, _ = choose_standard(edition, ledger, missing_scans(edition))
    corners = {pull.scan: pull.corners_px for pull in edition.pulls}
    again = [Pull(relay.scan, relay.scan, corners_px=corners.get(relay.scan)) for relay in relays]
    lays = pd.DataFrame(
        [(relay.pull, relay.scan, relay.day, relay.operator) for relay in relays],
        columns=["sheet", "scan", "day", "operator"],
        dtype=object,
    ).set_index("scan", drop=False)
    one_more = [] if standard.scan in lays.index else [replace(standard, pull=standard.scan)]
    others = [replace(p, pull=p.scan) for p in _further(edition, relays, standard)]
    pile = replace(
        edition,
        pulls=(*one_more, *again, *others),
        standard=standard.scan,
        confirming=(),
    )
    return measure_pile(pile, ledger, workers, progress).measured, lays


MOST_OTHERS = 3
"""So many sheets that were not laid down again are measured too, to know what other sheets look like."""


def _further(edition: Edition, relays: tuple[Relay, ...], standard: Pull) -> list[Pull]:
    used = {relay.pull for relay in relays} | {standard.pull}
    scans = {relay.scan for relay in relays}
    there = [pull for pull in edition.pulls if edition.scan_path(pull).is_file()]
    return [pull for pull in there if pull.pull not in used and pull.scan not in scans][:MOST_OTHERS]


def _study(measured: MeasuredEdition, lays: pd.DataFrame, edition: Edition, page: Path) -> RelayResult:
    left_out = {scan: why for scan, why in measured.failures.items() if scan in lays.index}
    for scan, quality in zip(measured.sheets["pull"], measured.sheets["quality"], strict=True):
        if scan in lays.index and from_words(str(quality)) & NOT_LAID:
            left_out[str(scan)] = f"could not be laid on the standard ({quality})"
    scans = {
        str(sheet): [str(scan) for scan in part["scan"] if scan not in left_out]
        for sheet, part in lays.groupby("sheet", sort=False)
    }
    by_scan = {pull.scan: pull.pull for pull in edition.pulls}
    others = [scan for scan in measured.tone_pictures if scan not in lays.index]
    left_out |= strangers(scans, measured.tone_pictures, [s for s in others if by_scan.get(s) not in scans])
    kept = lays[~lays.index.isin(list(left_out))]
    if not kept["sheet"].duplicated().any():
        first = next(iter(left_out.items()), ("", ""))
        raise ScanError(
            f"No sheet of {RELAYS_FILE} has two scans that count. {quoted(first[0])} {first[1]}. "
            "Scan a sheet again, or mend the file."
        )
    counted = measured.measurements[measured.measurements["pull"].isin(kept.index)]
    table = repeatability_table(
        counted,
        measured.sheets[measured.sheets["pull"].isin(kept.index)],
        kept,
    )
    if table.empty:
        raise FolderError("Nothing could be measured on two scans of one sheet. Check the regions.")
    remarks = _remarks(table, kept, measured)
    between = tuple(agreements(counted, kept))
    return RelayResult(table, kept, left_out, relay_gate(table), remarks, between, page)


FEW_LAYS = 6.0
"""Below so many degrees of freedom a scatter is known to no better than a third of itself (JCGM 100, E.4.3)."""


def _remarks(table: pd.DataFrame, kept: pd.DataFrame, measured: MeasuredEdition) -> tuple[str, ...]:
    said = []
    for level, on in (("day", "on"), ("operator", "by")):
        if (kept[level] == "").any():
            said.append(f"No {level} is told: differences between {level}s are not in these figures.")
        elif kept.groupby("sheet")[level].nunique().max() < 2:
            said.append(
                f"Each sheet was laid down {on} one {level} only: differences between {level}s cannot be told."
            )
    freedom = float(table["freedom"].median())
    if freedom < FEW_LAYS:
        said.append(
            f"With about {freedom:.0f} degrees of freedom the scatter itself is known only roughly; its upper limit "
            "stands beside it. Lay sheets down more often."
        )
    if len(measured.tone_pictures) - len(kept) < 1 and len(set(kept["sheet"])) == 1:
        said.append("There is no other sheet to compare with: that all scans show one sheet was not checked.")
    ppi = measured.sheets.loc[measured.sheets["pull"].isin(kept.index), "ppi_x"]
    if ppi.max() > 1.02 * ppi.min():
        said.append(
            f"The scans have {ppi.min():.0f} to {ppi.max():.0f} px/inch: what they differ by is not the laying alone."
        )
    return tuple(said)
