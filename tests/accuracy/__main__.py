"""``python -m tests.accuracy``: measure editions whose truth is known and print how far off the program is."""

import argparse
import tempfile
from collections.abc import Sequence
from pathlib import Path

import cv2

from tests.accuracy.editions import DEFAULT, QUICK, make, run, run_rows
from tests.accuracy.geometry import geometry_rows
from tests.accuracy.measures import measure_rows
from tests.accuracy.rows import lines_of
from tests.accuracy.ruled import ruled_rows
from tests.accuracy.tables import read_checked, shown
from tests.accuracy.verdicts import by_cause, false_table, fault_table, verdict_rows


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.accuracy", description=__doc__)
    parser.add_argument(
        "--folder", type=Path, action="append", help="an edition with truth/; may be given several times"
    )
    parser.add_argument(
        "--keep", type=Path, help="where to write the editions and leave them for the next run"
    )
    parser.add_argument("--quick", action="store_true", help="two small editions, under two minutes")
    parser.add_argument("--no-sample", action="store_true", help="leave out the sample edition")
    parser.add_argument("--no-run", action="store_true", help="compare the results that are there already")
    parser.add_argument(
        "--states", action="store_true", help="pairs of states only, with known work between them"
    )
    parser.add_argument("--tones", action="store_true", help="pairs of states whose tones differ only")
    parser.add_argument(
        "--judgement", action="store_true", help="judgement only, on tables of simulated editions"
    )
    parser.add_argument(
        "--seeds", type=int, nargs="*", default=[21, 22, 23], help="of the pairs of states or tones"
    )
    parser.add_argument(
        "--measures", action="store_true", help="only the measures, on ruled patches and prints; five minutes"
    )
    parser.add_argument("--drawings", type=int, metavar="N", help="N prints and their pencil drawings only")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    if given.measures:
        return _measures(given.keep)
    if given.judgement:
        return _judgement()
    if given.states or given.drawings or given.tones:
        drawings = range(1, (given.drawings or 0) + 1)
        seeds = given.seeds if given.states else [], given.seeds if given.tones else [], drawings
        return _pairs(given.keep, *seeds)
    with tempfile.TemporaryDirectory() as scratch:
        under = given.keep or Path(scratch)
        orders = QUICK if given.quick else DEFAULT
        folders = given.folder or make(orders, under, sample=not given.quick and not given.no_sample)
        rows = [] if given.no_run else _run_all(folders)
        editions = [read_checked(folder) for folder in folders]
    laid, notes = geometry_rows(editions)
    measured, _ = measure_rows(editions)
    faults, sound = fault_table(editions), false_table(editions)
    rows = [*laid, *measured, *verdict_rows(faults, sound), *rows]
    print("\nErrors are held against what 95 % of them stay under.\n")
    print("\n".join(lines_of(rows)))
    print("\nBy cause:\n" + shown(by_cause(faults)))
    missed = faults[~faults["named"]]
    print("\nMissed or misnamed:\n" + shown(missed.drop(columns=["found", "named", "exact"])))
    print("\nSound sheets not called a match:\n" + shown(sound[sound["verdict"] != "matches"]))
    print("\n".join(["\nLaid badly:", *notes[:20]]))
    return 0 if all(row.holds is not False for row in rows) else 1


def _judgement() -> int:
    from tests.accuracy.judging import judging_rows  # noqa: PLC0415  only here: the editions do without

    rows, notes = judging_rows()
    print("\n".join(["", *lines_of(rows), "", *notes]))
    return 0 if all(row.holds is not False for row in rows) else 1


def _pairs(keep: Path | None, states: Sequence[int], tones: Sequence[int], drawings: Sequence[int]) -> int:
    from tests.accuracy.drawings import drawing_rows  # noqa: PLC0415  # only here: the editions do without
    from tests.accuracy.states import state_rows  # noqa: PLC0415
    from tests.accuracy.tones import tone_rows  # noqa: PLC0415

    rows, notes = [], []
    with tempfile.TemporaryDirectory() as scratch:
        for seeds, make in ((states, state_rows), (tones, tone_rows), (drawings, drawing_rows)):
            if seeds:
                more, said = make(keep or Path(scratch), seeds)
                rows, notes = [*rows, *more], [*notes, *said]
    print("\n".join(["", *lines_of(rows), "", *notes]))
    return 0 if all(row.holds is not False for row in rows) else 1


def _measures(keep: Path | None) -> int:
    """Print the bars of the measures themselves."""
    with tempfile.TemporaryDirectory() as scratch:
        rows = ruled_rows(keep or Path(scratch))
    print("\n" + "\n".join(lines_of(rows)))
    return 0 if all(row.holds is not False for row in rows) else 1


def _run_all(folders: list[Path]) -> list:
    from proofkit.check import check  # noqa: PLC0415  # only here: tables can be compared without running

    runs = []
    for folder in folders:
        print(f"checking {folder.name} ...", flush=True)
        runs.append(run(check, folder))
    return run_rows(runs)


if __name__ == "__main__":
    raise SystemExit(main())
