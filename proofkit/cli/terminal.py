"""What the commands say: a progress bar and tables on a terminal, plain lines anywhere else."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from proofkit.check import CheckResult
from proofkit.folder.problems import without_controls
from proofkit.measures.advice import line_advice
from proofkit.progress import Progress as Tell
from proofkit.wording import pulls_listed

HEADINGS = ("pull", "verdict", "causes", "regions")


@contextmanager
def progress_bar() -> Iterator[Tell | None]:
    """Show how far long work has come; nothing where nobody watches."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=1)

        def tell(what: str, done: int, total: int) -> None:
            bar.update(task, description=what, completed=done, total=total)

        yield tell


def show_check(result: CheckResult) -> None:
    """Say which sheets leave the standard, which could not be compared, and where the report is."""
    rows = [tuple(str(row[name]) for name in HEADINGS) for row in result.judged.judgement.to_dict("records")]
    console = Console()
    if console.is_terminal:
        table = Table(*HEADINGS, box=None, header_style="bold")
        for row in rows:
            table.add_row(*map(Text, row))
        console.print(table)
    else:
        sys.stdout.write("".join(f"{line}\n" for line in aligned([HEADINGS, *rows])))
    sys.stdout.write("".join(f"{line}\n" for line in closing_lines(result)))


def aligned(rows: list[tuple[str, ...]]) -> list[str]:
    """Return rows as lines with their columns under each other.

    >>> aligned([("pull", "verdict"), ("1", "matches")])
    ['pull  verdict', '1     matches']
    """
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return [line.rstrip() for line in lines]


def closing_lines(result: CheckResult) -> list[str]:
    """Return what is said below the table."""
    measured = result.measured
    lines = [""]
    if result.failures:
        lines += [f"Could not be compared ({len(result.failures)}):"]
        lines += [f"  {pull}: {why}" for pull, why in result.failures.items()]
    if measured.is_provisional:
        lines.append(
            f"Pull {measured.standard} serves as provisional standard; name the signed one in edition.toml."
        )
    lines += [f"Note: {remark}" for remark in measured.edition.remarks]
    if len(result.places):
        pulls = pulls_listed([*dict.fromkeys(result.places["pull"])])
        lines.append(f"Single places to look at: {len(result.places)} ({pulls}).")
    lines += line_advice(measured)
    known = len(measured.sheets) - result.new_sheets
    lines.append(f"{result.new_sheets} measured now, {known} taken from the ledger.")
    lines.append(f"Report: {result.report}")
    return [without_controls(line) for line in lines]
