"""The command `compare`."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proofkit.cli.codes import DONE, SOME_LEFT_OUT
from proofkit.errors import ComparisonError

if TYPE_CHECKING:
    from proofkit.compare.drawing import DrawingResult
    from proofkit.compare.run import StatesResult


def add_compare(commands: Any) -> None:  # noqa: ANN401  # argparse keeps the class of its subparsers to itself
    """Add the command to the parser."""
    compare = commands.add_parser(
        "compare",
        help="lay state on state, or a drawing on its print, and list what differs",
        description="Lay two states of a plate on each other and list what was added, removed, deepened or lightened. "
        "A darker or drier pull of the same state is no change. With --drawing, A is a drawing and B the print after "
        "it: which way it reads, how much of it the print follows, and where it departs.",
    )
    compare.add_argument(
        "a", type=Path, metavar="A", help="earlier state: a scan, a folder of scans, or an edition"
    )
    compare.add_argument(
        "b", type=Path, nargs="?", metavar="B", help="later state; without it both are of the edition A"
    )
    compare.add_argument(
        "--states", nargs=2, metavar="STATE", help="the two words of the column state in pulls.csv"
    )
    compare.add_argument(
        "--pulls", nargs=2, metavar="LIST", help="pulls to take of A and of B, with commas between"
    )
    compare.add_argument(
        "--ppi", nargs=2, type=float, metavar="PPI", help="resolutions of A and B, instead of the files'"
    )
    compare.add_argument("--drawing", action="store_true", help="A is the drawing of the print B")
    compare.add_argument("--out", type=Path, metavar="DIR", help="folder for tables and report")
    compare.set_defaults(run=_compare)


def _compare(asked: argparse.Namespace) -> int:
    if asked.drawing:
        return _compare_drawing(asked)
    from proofkit.cli.terminal import progress_bar
    from proofkit.compare import compare

    lists = [[name for name in text.split(",") if name] for text in asked.pulls or ()]
    with progress_bar() as progress:
        result = compare(
            asked.a,
            asked.b,
            states=tuple(asked.states) if asked.states else None,
            pulls=(lists[0], lists[1]) if lists else None,
            ppi=tuple(asked.ppi) if asked.ppi else (None, None),
            out=asked.out,
            progress=progress,
        )
    sys.stdout.write("".join(f"{line}\n" for line in states_lines(result)))
    return SOME_LEFT_OUT if result.left_out else DONE


def _compare_drawing(asked: argparse.Namespace) -> int:
    from proofkit.compare import compare_with_drawing

    if asked.b is None or asked.states or asked.pulls:
        raise ComparisonError(
            "--drawing takes two scans, the drawing and then the print, and neither --states nor --pulls. "
            "Name two files."
        )
    ppi = tuple(asked.ppi) if asked.ppi else (None, None)
    result = compare_with_drawing(asked.a, asked.b, ppi=ppi, out=asked.out)
    sys.stdout.write("".join(f"{line}\n" for line in drawing_lines(result)))
    return DONE


def drawing_lines(result: "DrawingResult") -> list[str]:
    """Return what is said after a print was compared with its drawing."""
    from proofkit.cli.terminal import aligned
    from proofkit.folder.problems import without_controls

    row = result.drawing.iloc[0]
    lines = [
        f"{row['drawing']} -> {row['print']}: reads {result.reading}; printed lines follow "
        f"{100 * row['covered_fraction']:.0f} % of the drawing",
        "",
    ]
    if len(result.departures):
        rows: list[tuple[str, ...]] = [("departure", "x, y (mm)", "length (mm)", "by (mm)")]
        rows += [
            (str(one["number"]), f"{one['x_mm']:.1f}, {one['y_mm']:.1f}", f"{one['length_mm']:.1f}",
             f"{one['departure_mm']:.2f}")
            for _, one in result.departures.iterrows()
        ]  # fmt: skip
        lines += [*aligned(rows), ""]
    lines += [f"Note: {remark}" for remark in result.compared.remarks]
    lines.append(f"Report: {result.report}")
    return [without_controls(line) for line in lines]


def states_lines(result: "StatesResult") -> list[str]:
    """Return what is said after two states were compared."""
    from proofkit.cli.terminal import aligned
    from proofkit.folder.problems import without_controls

    lines = [f"{result.labels[0]} -> {result.labels[1]}: {result.verdict}", ""]
    kinds = result.changes.groupby("kind", sort=False)["length_mm"].agg(["size", "sum"])
    if len(kinds):
        rows: list[tuple[str, ...]] = [("kind", "strokes", "mm of line")]
        rows += [(str(kind), f"{row['size']:.0f}", f"{row['sum']:.1f}") for kind, row in kinds.iterrows()]
        lines += [*aligned(rows), ""]
    tones = result.areas[result.areas["work"] == "tone"].groupby("kind", sort=False)["area_mm2"]
    if len(tones):
        rows = [("tone", "areas", "mm²")]
        rows += [(str(kind), str(len(areas)), f"{areas.sum():.0f}") for kind, areas in tones]
        lines += [*aligned(rows), ""]
    if result.left_out:
        lines.append(f"Not compared ({len(result.left_out)}):")
        lines += [f"  {scan}: {why}" for scan, why in result.left_out.items()]
    lines += [f"Note: {remark}" for remark in result.compared.remarks]
    lines.append(f"Report: {result.report}")
    return [without_controls(line) for line in lines]
