"""The command `study`."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proofkit.cli.codes import DONE, SOME_LEFT_OUT

if TYPE_CHECKING:
    from proofkit.study.relay import RelayResult


def add_study(commands: Any) -> None:  # noqa: ANN401  # argparse keeps the class of its subparsers to itself
    """Add the command to the parser."""
    study = commands.add_parser(
        "study",
        help="see how far measuring repeats",
        description="See how far measuring repeats.",
    )
    study.add_argument("folder", type=Path, metavar="FOLDER", help="folder of the edition")
    study.add_argument(
        "--relay",
        action="store_true",
        help="study of the same sheets laid down again, listed in relays.csv",
    )
    study.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for the results (default: FOLDER/results)"
    )
    study.add_argument(
        "--ledger", metavar="URL", help="file or database address (default: FOLDER/ledger.sqlite)"
    )
    study.set_defaults(run=_study)


def _study(asked: argparse.Namespace) -> int:
    from proofkit.cli.terminal import progress_bar
    from proofkit.study.relay import relay_study

    with progress_bar() as progress:
        result = relay_study(asked.folder, out=asked.out, ledger_url=asked.ledger, progress=progress)
    sys.stdout.write("".join(f"{line}\n" for line in relay_lines(result)))
    return SOME_LEFT_OUT if result.left_out else DONE


def relay_lines(result: "RelayResult") -> list[str]:
    """Return what is said after a re-lay study: the measures that are read first, then what limits them."""
    from proofkit.cli.terminal import aligned
    from proofkit.figures.words import PRIMARY, number
    from proofkit.folder.problems import without_controls
    from proofkit.study.relay_page import small

    rows: list[tuple[str, ...]] = [("region", "measure", "mean", "one scan, s.d.", "least detectable change")]
    rows += [
        (str(row["region"]), str(row["measure"]), number(str(row["measure"]), float(row["mean"])),
         small(float(row["relay_sd"])), small(float(row["minimal_detectable_change"])))
        for _, row in result.table.iterrows() if row["measure"] in PRIMARY
    ]  # fmt: skip
    lines = [*aligned(rows), ""]
    if result.left_out:
        lines += [f"Left out ({len(result.left_out)}):"]
        lines += [f"  {scan} {why}." for scan, why in result.left_out.items()]
    lines += [f"No flags: {reason}" for reason in result.gate]
    lines += [f"Note: {remark}" for remark in result.remarks]
    lines.append("Kept in the ledger: proofkit check takes no spread to be below this scatter.")
    lines.append(f"Page: {result.page}")
    return [without_controls(line) for line in lines]
