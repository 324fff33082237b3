"""The command `record`."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from proofkit.cli.codes import DONE
from proofkit.errors import FolderError

if TYPE_CHECKING:
    from proofkit.ledger.decisions import EntryWord
    from proofkit.record.run import RecordResult

MOST_QUESTIONS = 12
"""Open questions that are shown; the sheet has them all."""


def add_record(commands: Any) -> None:  # noqa: ANN401  # argparse keeps the class of its subparsers to itself
    """Add the command to the parser."""
    record = commands.add_parser(
        "record",
        help="keep the pull log, account for every pull, draft the documentation sheet",
        description="Keep the pull log, account for every pull, and draft the documentation sheet of an edition.",
    )
    record.add_argument("folder", type=Path, metavar="FOLDER", help="folder of the edition")
    record.add_argument(
        "--enter",
        nargs="+",
        metavar="COLUMN=TEXT",
        help="enter a pull into pull_log.csv or fill in its cells: pull=12 kind=edition soak_min=40",
    )
    record.add_argument(
        "--import", dest="log", type=Path, metavar="FILE", help="bring another log (CSV) into pull_log.csv"
    )
    record.add_argument(
        "--decide",
        nargs=2,
        metavar=("PULL", "WORD"),
        help="decide about a pull: keep, second, 'set aside' or spoiled, or 'taken back'; wants --by",
    )
    record.add_argument("--by", default="", metavar="INITIALS", help="who decides")
    record.add_argument("--reason", default="", metavar="TEXT", help="why, in your own words")
    record.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for the results (default: FOLDER/results/record)"
    )
    record.add_argument(
        "--ledger", metavar="URL", help="file or database address (default: FOLDER/ledger.sqlite)"
    )
    record.set_defaults(run=_record)


def _record(asked: argparse.Namespace) -> int:
    from proofkit.record.log import bring_in, enter
    from proofkit.record.run import decide_about, record

    if (asked.by or asked.reason) and not asked.decide:
        raise FolderError("--by and --reason tell who decided and why. Give them with --decide PULL WORD.")
    said = []
    if asked.log is not None:
        added, remarks = bring_in(asked.folder, asked.log)
        said += [
            f"{added} entries of {asked.log.name} were added or filled up.",
            *map("Note: {}".format, remarks),
        ]
    if asked.enter:
        entry = enter(asked.folder, cells_of(asked.enter))
        said.append(f"Pull {entry['pull']} is in pull_log.csv.")
    if asked.decide:
        pull, word = asked.decide
        decide_about(
            asked.folder,
            pull,
            cast("EntryWord", word),
            reason=asked.reason,
            by=asked.by,
            ledger_url=asked.ledger,
        )
        said.append(f"Pull {pull}: {word}, by {asked.by}.")
    result = record(asked.folder, out=asked.out, ledger_url=asked.ledger)
    sys.stdout.write("".join(f"{line}\n" for line in [*said, *record_lines(result)]))
    return DONE


def cells_of(parts: list[str]) -> dict[str, str]:
    """Return cells written as COLUMN=TEXT.

    Raises
    ------
    FolderError
        If one is not written so.
    """
    cells = {}
    for part in parts:
        name, sign, text = part.partition("=")
        if not sign or not name.strip():
            raise FolderError(f"{part!r} is no entry; allowed is COLUMN=TEXT, such as soak_min=40.")
        cells[name.strip().lower()] = text.strip()
    return cells


def record_lines(result: "RecordResult") -> list[str]:
    """Return what is said after the papers were brought together."""
    from proofkit.cli.terminal import aligned
    from proofkit.folder.problems import without_controls

    rows: list[tuple[str, ...]] = [("account", "kind", "count", "pulls")]
    rows += [
        (one.account, one.kind, str(len(one.pulls)), ", ".join(one.pulls))
        for one in result.reconciliation.accounts
    ]
    rows.append(("all pulls", "", str(result.reconciliation.total), ""))
    lines = [*aligned(rows), ""]
    questions = result.open_questions
    if questions:
        lines.append(f"Open questions ({len(questions)}):")
        lines += [f"  {question}" for question in questions[:MOST_QUESTIONS]]
        if len(questions) > MOST_QUESTIONS:
            lines.append(f"  and {len(questions) - MOST_QUESTIONS} more, all of them on the sheet.")
    proposed = [one for one in result.numbered if one.state == "proposed" and one.designation]
    if proposed:
        lines.append(f"{len(proposed)} numbers are proposed in numbering.csv; the artist fixes them.")
    if result.started is not None:
        lines.append(f"wrote {result.started}: fill in what is known of the edition.")
    lines.append(f"Draft documentation sheet: {result.page} (and .pdf)")
    return [without_controls(line) for line in lines]
