"""The command `bench`."""

import argparse
from pathlib import Path
from typing import Any


def add_bench(commands: Any) -> None:  # noqa: ANN401  # argparse keeps the class of its subparsers to itself
    """Add the command to the parser."""
    bench = commands.add_parser(
        "bench",
        help="open the bench in JupyterLab: look at sheets, draw regions, decide",
        description="Open the notebook that fits a folder in JupyterLab, on this machine only. Stop it with Ctrl-C; "
        "regions, decisions and measurements are kept.",
    )
    bench.add_argument("folder", type=Path, metavar="FOLDER", help="folder of the edition")
    bench.add_argument(
        "--job",
        choices=("check", "choose", "compare", "study"),
        help="open the notebook of this job instead of the one that fits the folder",
    )
    bench.add_argument("--no-browser", action="store_true", help="print the address instead of opening it")
    bench.set_defaults(run=_bench)


def _bench(asked: argparse.Namespace) -> int:
    from proofkit.widgets.opening import open_bench

    return open_bench(asked.folder, asked.job, with_browser=not asked.no_browser)
