"""The command line; one short function a command, and nothing imported before it is needed."""

import argparse
import io
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from proofkit import __version__
from proofkit.cli.bench import add_bench
from proofkit.cli.choose import add_choose
from proofkit.cli.codes import DONE, NOTHING_DONE, SOME_LEFT_OUT, STOPPED
from proofkit.cli.compare import add_compare
from proofkit.cli.record import add_record
from proofkit.cli.study import add_study
from proofkit.errors import ProofkitError
from proofkit.folder.problems import without_controls
from proofkit.heap import share_one_heap


class _Parser(argparse.ArgumentParser):
    """A parser that complains in one line and ends with the code that means that nothing was done."""

    def error(self, message: str) -> NoReturn:
        self.exit(NOTHING_DONE, f"proofkit: {message}. See {self.prog} --help.\n")


def parser() -> argparse.ArgumentParser:
    """Return the parser of all commands."""
    top = _Parser(
        prog="proofkit",
        description="Measure scanned proofs of an intaglio plate and see which impressions leave the standard.",
        epilog="Exit codes: 0 done; 1 nothing done, one line says why; 3 done, but some scans could not be compared.",
    )
    top.add_argument("--version", action="version", version=f"proofkit {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    start = commands.add_parser(
        "start",
        help="lay out an edition around a folder of scans",
        description="Write edition.toml and pulls.csv for the scans in a folder. Nothing is moved or replaced.",
    )
    start.add_argument(
        "folder", type=Path, metavar="FOLDER", help="folder that holds the scans, or their folder scans"
    )
    start.set_defaults(run=_start)
    check = commands.add_parser(
        "check",
        help="measure what is new, judge the edition, write tables and report",
        description="Measure what is new in an edition, judge it against the standard, write tables and report.",
    )
    check.add_argument("folder", type=Path, metavar="FOLDER", help="folder of the edition")
    check.add_argument(
        "--out", type=Path, metavar="DIR", help="folder for tables and report (default: FOLDER/results)"
    )
    check.add_argument(
        "--ledger", metavar="URL", help="file or database address (default: FOLDER/ledger.sqlite)"
    )
    check.add_argument(
        "--workers",
        type=_count,
        metavar="N",
        help="sheets measured at once (default: as processors and memory allow)",
    )
    check.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="dask scheduler whose workers measure the sheets, for example tcp://host:8786",
    )
    check.set_defaults(run=_check)
    add_choose(commands, _count)
    add_bench(commands)
    add_compare(commands)
    add_study(commands, _count)
    add_record(commands)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command and return its exit code."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # a terminal may lack a sign that a name or a unit has
    asked = parser().parse_args(arguments)
    share_one_heap()
    try:
        code: int = asked.run(asked)
    except ProofkitError as error:
        sys.stderr.write(f"proofkit: {without_controls(str(error))}\n")
        return NOTHING_DONE
    except KeyboardInterrupt:
        sys.stderr.write("proofkit: stopped. Sheets that were measured are kept; run again to go on.\n")
        return STOPPED
    return code


def _count(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of sheets; allowed is 1 or more")
    return int(text)


def _start(asked: argparse.Namespace) -> int:
    from proofkit.folder.start import start_folder

    made = start_folder(asked.folder)
    lines = [f"wrote {path}" for path in made] or [f"{asked.folder} is laid out already; nothing was changed"]
    if made:
        lines.append(f"Look through them, then run: proofkit check {asked.folder}")
    sys.stdout.write("\n".join(lines) + "\n")
    return DONE


def _check(asked: argparse.Namespace) -> int:
    from proofkit.check import check
    from proofkit.cli.terminal import progress_bar, show_check

    with progress_bar() as progress:
        result = check(
            asked.folder,
            out=asked.out,
            ledger_url=asked.ledger,
            workers=asked.workers,
            cluster=asked.cluster,
            progress=progress,
        )
    show_check(result)
    return SOME_LEFT_OUT if result.failures else DONE
