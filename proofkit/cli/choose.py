"""``proofkit choose``: trial proofs side by side, and the signature on one of them."""

import argparse
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proofkit.cli.codes import DONE, SOME_LEFT_OUT
from proofkit.errors import FolderError

if TYPE_CHECKING:
    from proofkit.choosing import ChoiceResult


def add_choose(
    commands: Any,  # noqa: ANN401  # argparse keeps the class of its subparsers to itself
    count: Callable[[str], int],
) -> None:
    """Add the command to the parser."""
    choose = commands.add_parser(
        "choose",
        help="lay trial proofs side by side for the choice of the standard, or sign one",
        description="Lay the trial proofs of one state side by side: what each grants of the artist's wishes "
        "([wishes] in edition.toml), which can be pulled again, where they differ. With --sign, record the standard.",
    )
    choose.add_argument("folder", type=Path, metavar="FOLDER", help="folder of the edition")
    choose.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for tables and page (default: FOLDER/results)"
    )
    choose.add_argument(
        "--ledger", metavar="URL", help="file or database address (default: FOLDER/ledger.sqlite)"
    )
    choose.add_argument(
        "--workers", type=count, metavar="N", help="sheets measured at once (default: as memory allows)"
    )
    choose.add_argument(
        "--sign",
        metavar="PULL",
        help="record that the artist signed this pull as the standard, and nothing else",
    )
    choose.add_argument("--by", metavar="INITIALS", default="", help="of the artist, with --sign")
    choose.add_argument(
        "--again", action="store_true", help="with --sign: although a standard was signed before"
    )
    choose.set_defaults(run=_choose)


def _choose(asked: argparse.Namespace) -> int:
    from proofkit.choosing import choose, sign_standard
    from proofkit.cli.terminal import progress_bar

    if (asked.by or asked.again) and asked.sign is None:
        raise FolderError("--by and --again belong to a signature. Give them with --sign PULL.")
    if asked.sign is not None:
        path = sign_standard(asked.folder, asked.sign, by=asked.by, again=asked.again)
        sys.stdout.write(f"Pull {asked.sign} is recorded as signed by {asked.by}: {path}\n")
        return DONE
    with progress_bar() as progress:
        result = choose(
            asked.folder,
            out=asked.out,
            ledger_url=asked.ledger,
            workers=asked.workers,
            progress=progress,
        )
    _show(result)
    return SOME_LEFT_OUT if result.failures else DONE


def _show(result: "ChoiceResult") -> None:
    from proofkit.cli.terminal import aligned
    from proofkit.folder.problems import without_controls
    from proofkit.report.choice_page import candidate_rows, sentences_of, wish_lines

    choice = result.choice
    lines = []
    if choice.wishes:
        head = ("wish", *(f"pull {pull}" for pull in choice.candidates))
        lines += [*aligned([head, *wish_lines(choice)]), ""]
    head = ("pull", "leads", "from its recipe's centre", "inside tolerance", "surpassed by")
    rows = [
        (row["pull"], row["leads"], row["distance"], row["inside"], row["surpassed_by"])
        for row in candidate_rows(choice)
    ]
    lines += [*aligned([head, *rows]), "", *sentences_of(choice)]
    if result.failures:
        lines.append(f"Could not be measured ({len(result.failures)}):")
        lines += [f"  {pull}: {why}" for pull, why in result.failures.items()]
    lines += [f"Note: {remark}" for remark in choice.remarks]
    known = len(result.measured.sheets) - result.new_sheets
    lines.append(f"{result.new_sheets} measured now, {known} taken from the ledger.")
    lines.append(f"Page: {result.page}")
    sys.stdout.write("".join(f"{without_controls(line)}\n" for line in lines))
