"""How much of what was done to the copper between two states is found, and how much is found that was not done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from scipy.spatial import cKDTree

from proofkit.compare import compare
from proofkit.laying.types import to_plate_mm
from proofkit.states.types import Change as Found
from tests.accuracy.rows import Row
from tests.heldout.fields import Array
from tests.heldout.geometry import SheetMap, to_px
from tests.heldout.plate import random_plate
from tests.heldout.states import Printing, TwoStates, Work, copied, scan_pull, work_on
from tests.heldout.toned import TonedStates

NEAR_MM = 0.15
"""A point of a stroke is found when a change of its kind is drawn this near."""

SIZE = (46.0, 40.0)

ALIKE = {"added": {"added", "scratch"}, "scratch": {"added", "scratch"}}
"""Kinds that count for each other: whether a new line is a scratch is told apart in its own row."""


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """Scans of two states, and what is true of them."""

    folder: Path
    two: TwoStates
    base_map: SheetMap
    """Map of the first pull of the earlier state."""


@dataclass(slots=True)
class Tally:
    """Lengths of strokes summed over pairs. [mm]"""

    true: dict[str, float] = field(default_factory=dict)
    found: dict[str, float] = field(default_factory=dict)
    reported: float = 0.0
    false: float = 0.0
    notes: list[str] = field(default_factory=list)


def draw_pair(
    folder: Path, seed: int, *, size_mm: tuple[float, float] = SIZE, work: Work | None = None
) -> Pair:
    """Write two pulls of each of two states; ink differs by up to 15 %, film by 0.05 D, stretch by 1 %."""
    rng = np.random.default_rng([seed, 53])
    plate = random_plate(seed, size_mm)
    each = int(rng.integers(10, 60)) // 3 + 1
    two = work_on(plate, seed, work or Work(each, each, each, scratches=4 * (seed % 2)))
    maps = write_pulls(folder, rng, two, [1000 * seed + 10 * later + k for later in (0, 1) for k in (1, 2)])
    return Pair(folder, two, maps[0])


def write_pulls(
    folder: Path, rng: np.random.Generator, two: TwoStates | TonedStates, seeds: Sequence[int]
) -> list[SheetMap]:
    """Write two pulls of each of two states and return their maps; `seeds` are those of their scans."""
    maps = []
    for k, seed in enumerate(seeds):
        side, copper = ("a", two.before) if k < 2 else ("b", two.after)
        (folder / side).mkdir(parents=True, exist_ok=True)
        printing = Printing(
            ink=float(rng.uniform(0.85, 1.15)),
            film=float(rng.uniform(-0.05, 0.05)),
            stretch=tuple(1 - rng.uniform(0, 0.01, 2)),
        )
        maps.append(scan_pull(folder / side / f"{side}{k % 2 + 1}.tif", copper, printing, seed))
    return maps


def truth_of(pair: Pair, compared) -> list[tuple[str, Array]]:
    """Return kind and course of every true change in the plate frame of the base's scan."""
    laying = compared.pulls[0].laid.laying
    return [
        (change.kind, to_plate_mm(laying, to_px(pair.base_map, change.points_mm)))
        for change in pair.two.changes
    ]


def add(tally: Tally, found: Sequence[Found], truth: Sequence[tuple[str, Array]], name: str) -> None:
    """Add what was found of one pair of states."""
    for kind, course in truth:
        step = np.concatenate(([0.0], np.hypot(*np.diff(course, axis=0).T)))
        drawn = [one.points_mm for one in found if one.kind in ALIKE.get(kind, {kind})]
        near = (
            cKDTree(np.concatenate(drawn)).query(course)[0] < NEAR_MM if drawn else np.zeros(len(step), bool)
        )
        tally.true[kind] = tally.true.get(kind, 0.0) + float(step.sum())
        tally.found[kind] = tally.found.get(kind, 0.0) + float(step[near].sum())
        if step[near].sum() < 0.5 * step.sum():
            x, y = course.mean(axis=0)
            tally.notes.append(f"{name}: missed {kind} of {step.sum():.1f} mm at {x:.1f}, {y:.1f}")
    for one in found:
        courses = [course for kind, course in truth if kind in ALIKE.get(one.kind, {one.kind})]
        far = (
            cKDTree(np.concatenate(courses)).query(one.points_mm)[0] > NEAR_MM
            if courses
            else np.ones(1, bool)
        )
        tally.reported += one.length_mm
        tally.false += float(far.mean()) * one.length_mm
        if far.mean() > 0.5:
            x, y = one.points_mm.mean(axis=0)
            tally.notes.append(f"{name}: false {one.kind} of {one.length_mm:.1f} mm at {x:.1f}, {y:.1f}")


def rows_of(tally: Tally, what: str) -> list[Row]:
    """Return the rows on found and false stroke length."""
    rows = []
    for kind, true in tally.true.items():
        rows.append(
            Row(f"{what}: {kind} stroke length found", tally.found[kind] / true, "", 0.95, ">=", int(true))
        )
    share = tally.false / max(tally.reported, 1e-9)
    rows.append(Row(f"{what}: reported length that is false", share, "", 0.02, "<=", int(tally.reported)))
    return rows


def state_rows(under: Path, seeds: Sequence[int]) -> tuple[list[Row], list[str]]:
    """Return the rows on states: single pulls, two pulls of each, no change, and other plates."""
    single, double = Tally(), Tally()
    changed, wrong = 0, 0
    placed = dict.fromkeys(_ways_to_lie(), 0)
    for seed in seeds:
        print(f"states of plate {seed} ...", flush=True)
        pair = draw_pair(under / f"states{seed}", seed)
        a, b = pair.folder / "a", pair.folder / "b"
        one = compare(a / "a1.tif", b / "b1.tif", out=pair.folder / "single")
        add(single, one.compared.changes, truth_of(pair, one.compared), f"plate {seed}, single")
        both = compare(a, b, out=pair.folder / "double")
        add(double, both.compared.changes, truth_of(pair, both.compared), f"plate {seed}, double")
        same = compare(a / "a1.tif", a / "a2.tif", out=pair.folder / "same")
        changed += same.verdict != "no change" or len(same.changes) > 0
        copper = pair.two.before
        others = {"copy": copied(copper, seed, 0.15), "other": random_plate(90 + seed, SIZE)}
        for name, other in others.items():
            path = pair.folder / f"{name}.tif"
            scan_pull(path, other, Printing(), seed)
            wrong += compare(a / "a1.tif", path, out=pair.folder / name).verdict != "not the same plate"
        for k, (way, printing) in enumerate(_ways_to_lie().items()):
            path = pair.folder / f"lies{k}.tif"
            scan_pull(path, copper, printing, seed + k)
            laid = compare(a / "a1.tif", path, out=pair.folder / f"lies{k}").pulls.iloc[1]
            placed[way] += laid["relation"] == "same plate" and bool(laid["mirrored"]) == printing.mirrored
    rows = [
        *rows_of(single, "states, one pull of each"),
        *rows_of(double, "states, two pulls of each"),
        Row("states: pairs of one state in which a change is seen", changed, "", 0.0, "<=", len(seeds)),
        Row("states: copies and other plates taken for the plate", wrong, "", 0.0, "<=", 2 * len(seeds)),
        *(
            Row(f"states: laid: {way}", count / max(len(seeds), 1), "", 1.0, ">=", len(seeds))
            for way, count in placed.items()
        ),
    ]
    return rows, [*single.notes, *double.notes]


def _ways_to_lie() -> dict[str, Printing]:
    """Return how a second scan of the plate may lie, in words; crops lie inside the plate mark."""
    part = (4.0, 5.0, 38.0, 33.0)
    return {
        "a third of the ppi, no plate mark, 90 deg": Printing(ppi=200, crop_mm=part, turned=1),
        "180 deg, mirrored": Printing(mirrored=True, turned=2),
        "half of it, no plate mark, 270 deg, mirrored": Printing(
            crop_mm=(14.0, 5.0, 40.0, 33.0), turned=3, mirrored=True
        ),
    }
