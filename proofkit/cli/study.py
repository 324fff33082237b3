"""The command `study`."""

import argparse
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from proofkit.cli.codes import DONE, SOME_LEFT_OUT

if TYPE_CHECKING:
    from proofkit.study.relay import RelayResult
    from proofkit.study.run import StudyResult


def add_study(
    commands: Any,  # noqa: ANN401  # argparse keeps the class of its subparsers to itself
    count: Callable[[str], int],
) -> None:
    """Add the command to the parser; `count` reads a number of sheets."""
    study = commands.add_parser(
        "study",
        help="analyse an experiment and write it up, or see how far measuring repeats",
        description="Analyse the experiment of experiment.csv and write it up; with --relay see how far "
        "measuring repeats.",
    )
    study.add_argument("folder", type=Path, metavar="FOLDER", help="folder of the study or edition")
    study.add_argument(
        "--relay",
        action="store_true",
        help="study of the same sheets laid down again, listed in relays.csv",
    )
    study.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="folder for the results (default: FOLDER/results/study; with --relay FOLDER/results)",
    )
    study.add_argument(
        "--ledger", metavar="URL", help="file or database address (default: FOLDER/ledger.sqlite)"
    )
    study.add_argument(
        "--workers", type=count, metavar="N", help="sheets measured at once (default: as memory allows)"
    )
    study.set_defaults(run=_study)


def _study(asked: argparse.Namespace) -> int:
    if asked.relay:
        return _relay(asked)
    from proofkit.cli.terminal import progress_bar
    from proofkit.study.run import study

    with progress_bar() as progress:
        result = study(
            asked.folder, out=asked.out, ledger_url=asked.ledger, workers=asked.workers, progress=progress
        )
    sys.stdout.write("".join(f"{line}\n" for line in study_lines(result)))
    return SOME_LEFT_OUT if result.left_out else DONE


def _relay(asked: argparse.Namespace) -> int:
    from proofkit.cli.terminal import progress_bar
    from proofkit.study.relay import relay_study

    with progress_bar() as progress:
        result = relay_study(
            asked.folder, out=asked.out, ledger_url=asked.ledger, workers=asked.workers, progress=progress
        )
    sys.stdout.write("".join(f"{line}\n" for line in relay_lines(result)))
    return SOME_LEFT_OUT if result.left_out else DONE


def study_lines(result: "StudyResult") -> list[str]:
    """Return what is said after a study: effects with their intervals, then what could not be answered."""
    from proofkit.cli.terminal import aligned
    from proofkit.folder.problems import without_controls
    from proofkit.study.package import chance, shown
    from proofkit.study.told import SIZES, effect_as_told, number_of

    rows: list[tuple[str, ...]] = [
        ("response", "unit", "region", "term", "step", "effect", "95 %", "over all", "p")
    ]
    for row in result.analysis.effects.to_dict("records"):
        told = effect_as_told({str(key): value for key, value in row.items()}, result.relative)
        estimate, low, high, over_all, _ = (shown(number_of(told, name)) for name in SIZES)
        interval = f"{low} to {high}" if math.isfinite(number_of(told, "low")) else "–"
        names = (str(told[name]) or "-" for name in ("response", "unit", "region", "term", "step"))
        rows.append((*names, estimate, interval, over_all, chance(number_of(told, "p_value"))))
    lines = [*aligned(rows), ""] if len(rows) > 1 else []
    lines += [
        f"{one.speed.faster} against {one.speed.slower}, {one.response}: {shown(one.speed.speed)} times as fast"
        f"{_interval(one.speed.low, one.speed.high)}{f'; {one.remark}' if one.remark else ''}"
        for one in result.comparisons
    ]
    lines += [
        f"Common slope in {f'{plate}, ' if plate else ''}{tilt.region}: {shown(tilt.across_density)} D from end to end "
        f"(standard uncertainty {shown(tilt.u_density, 2)} D, p {chance(tilt.p)})"
        for plate, tilt in result.tilts
    ]
    if result.left_out:
        lines += [f"Left out ({len(result.left_out)}):"]
        lines += [f"  {pull}: {why}" for pull, why in result.left_out.items()]
    lines += [f"Note: {remark}" for remark in result.remarks]
    lines.append(f"Write-up: {result.page} (also .md, .tex; tables in {result.page.parent / 'data'})")
    return [without_controls(line) for line in lines]


def _interval(low: float, high: float) -> str:
    from proofkit.study.package import shown

    return "" if math.isnan(low) else f" ({shown(low)} to {shown(high)})"


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
