"""Two states of one plate, with what was done to the copper between them, and pulls of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from tests.heldout.fields import Array, random_waves, smoothed_noise
from tests.heldout.geometry import SheetMap, random_map
from tests.heldout.ink import Recipe, sound_pull
from tests.heldout.plate import STEP_MM, Plate, Strokes
from tests.heldout.scanner import Capture, write_scan
from tests.heldout.sheet import Stock, draw_sheet

SHORTEST_MM = 2.0
"""Work on the plate between states is done in strokes at least this long."""


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One stroke that differs between the states."""

    kind: str
    """added, removed, deepened, lightened or scratch."""
    points_mm: Array
    """(n, 2) course on the copper."""
    width_um: float


@dataclass(frozen=True, slots=True, eq=False)
class TwoStates:
    """The copper before and after."""

    before: Plate
    after: Plate
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Work:
    """How many strokes of each kind are worked on."""

    added: int = 12
    removed: int = 12
    deepened: int = 10
    lightened: int = 0
    scratches: int = 0


def pieces(strokes: Strokes) -> list[Strokes]:
    """Return the strokes one by one."""
    return [_part(strokes, slice(a, b)) for a, b in zip(strokes.start[:-1], strokes.start[1:], strict=True)]


def joined(parts: Sequence[Strokes]) -> Strokes:
    """Return strokes one after the other."""
    counts = [len(part.points_mm) for part in parts]
    return Strokes(
        np.concatenate([part.points_mm for part in parts]),
        np.concatenate([part.width_um for part in parts]),
        np.concatenate([part.depth for part in parts]),
        np.concatenate(([0], np.cumsum(counts))),
        np.concatenate([part.burr for part in parts]),
    )


def _part(strokes: Strokes, where: slice) -> Strokes:
    count = len(strokes.points_mm[where])
    return Strokes(
        strokes.points_mm[where], strokes.width_um[where], strokes.depth[where], np.array([0, count]),
        strokes.burr[where],
    )  # fmt: skip


def length_mm(points_mm: Array) -> float:
    """Return the length of a course."""
    return float(np.hypot(*np.diff(points_mm, axis=0).T).sum())


def _course(rng: np.random.Generator, plate: Plate, *, bend: float = 0.02) -> Array:
    """Return the course of a new stroke somewhere on the plate, slightly curved, not quite steady."""
    size = np.array([plate.width_mm, plate.height_mm])
    while True:
        length = rng.uniform(3.0, 12.0)
        t = np.arange(-length / 2, length / 2, STEP_MM)
        turn = rng.uniform(0, 2 * np.pi)
        direction = np.array([np.cos(turn), np.sin(turn)])
        normal = np.array([-direction[1], direction[0]])
        across = rng.normal(0, bend) * t**2 + 0.01 * smoothed_noise(rng, len(t), 25.0) * (bend > 0)
        points = rng.uniform(4, size - 4) + t[:, None] * direction + across[:, None] * normal
        if (points > 2).all() and (points < size - 2).all():
            return np.asarray(points)


def _stroke(
    rng: np.random.Generator, points: Array, width_um: float, depth: float, *, taper_mm: float = 0.8
) -> Strokes:
    count = len(points)
    t = np.arange(count) * STEP_MM
    ends = np.clip(0.35 + np.minimum(t, t[-1] - t) / taper_mm, 0, 1)
    width = width_um * ends * (1 + 0.04 * smoothed_noise(rng, count, 12.0))
    return Strokes(points, width, np.full(count, depth), np.array([0, count]), np.zeros(count, dtype=bool))


def work_on(plate: Plate, seed: int, work: Work) -> TwoStates:
    """Return the plate in two states: what was burnished away, cut again, and newly cut is known."""
    rng = np.random.default_rng([seed, 41])
    own = pieces(plate.strokes)
    long = [k for k, one in enumerate(own) if length_mm(one.points_mm) > SHORTEST_MM]
    chosen = rng.permutation(long)[: work.removed + work.deepened + work.lightened]
    kinds = ["removed"] * work.removed + ["deepened"] * work.deepened + ["lightened"] * work.lightened
    before, after, changes = list(own), dict(enumerate(own)), []
    for k, kind in zip(chosen, kinds, strict=False):
        one = own[int(k)]
        if kind == "removed":
            gone, left = _burnished(rng, one)
            del after[int(k)]
            after.update({1_000_000 + 10 * int(k) + i: piece for i, piece in enumerate(left)})
            changes.append(Change(kind, gone.points_mm, float(np.median(gone.width_um))))
            continue
        factor = rng.uniform(1.35, 1.8) if kind == "deepened" else rng.uniform(0.4, 0.6)
        after[int(k)] = replace(
            one, width_um=one.width_um * factor, depth=np.clip(one.depth * factor, 0.05, 1.0)
        )
        changes.append(Change(kind, one.points_mm, float(np.median(one.width_um))))
    new = [_new_stroke(rng, plate) for _ in range(work.added)]
    changes += [Change("added", one.points_mm, float(np.median(one.width_um))) for one in new]
    scratches = _scratches(rng, plate, work.scratches)
    changes += [Change("scratch", one.points_mm, float(np.median(one.width_um))) for one in scratches]
    return TwoStates(
        replace(plate, strokes=joined(before)),
        replace(plate, strokes=joined([*after.values(), *new, *scratches])),
        tuple(changes),
    )


def _burnished(rng: np.random.Generator, one: Strokes) -> tuple[Strokes, list[Strokes]]:
    """Return the burnished part of a stroke and what is left: two in three go wholly, others in part."""
    count = len(one.points_mm)
    least = int(SHORTEST_MM / STEP_MM) + 1
    if rng.uniform() < 2 / 3 or count < 2 * least:
        return one, []
    a = int(rng.integers(0, count - least))
    b = int(rng.integers(a + least, count + 1))
    left = [_part(one, slice(0, a)), _part(one, slice(b, count))]
    return _part(one, slice(a, b)), [piece for piece in left if len(piece.points_mm) >= 6]


def _new_stroke(rng: np.random.Generator, plate: Plate) -> Strokes:
    width = rng.uniform(50, 150)
    depth = float(np.clip(0.25 + 0.75 * (width - 35) / 180, 0.1, 1))
    return _stroke(rng, _course(rng, plate), width, depth)


def _scratches(rng: np.random.Generator, plate: Plate, count: int) -> list[Strokes]:
    """Return thin straight scratches, nearly parallel, at uneven distances: grit under a card or cloth."""
    if count == 0:
        return []
    while True:
        course = _course(rng, plate, bend=0.0)
        direction = course[-1] - course[0]
        normal = np.array([-direction[1], direction[0]]) / np.hypot(*direction)
        offsets = np.cumsum(rng.uniform(0.3, 2.2, count))
        lines = [course + offset * normal for offset in offsets]
        low, high = (
            np.min([line.min() for line in lines]),
            np.max([line.max(axis=0) for line in lines], axis=0),
        )
        if low > 1.5 and (high < np.array([plate.width_mm, plate.height_mm]) - 1.5).all():
            return [_stroke(rng, line, rng.uniform(22, 32), 0.12, taper_mm=0.3) for line in lines]


@dataclass(frozen=True, slots=True)
class Printing:
    """How one pull of a state was printed and scanned."""

    ink: float = 1.0
    """Density of line cores, and half as strongly their width, against the recipe."""
    film: float = 0.0
    """Film more or less than the recipe's. [D]"""
    stretch: tuple[float, float] = (1.0, 1.0)
    ppi: float = 600.0
    crop_mm: tuple[float, float, float, float] | None = None
    """x0, y0, x1, y1 of the plate that the scan shows; None = the whole sheet."""
    turned: int = 0
    """Quarter turns of the file, counter-clockwise."""
    mirrored: bool = False


RECIPE = Recipe(0.06, 0.015, 1.35, random_waves(np.random.default_rng(5), 40.0), 0.004)
STOCK = Stock(0.86, 0.008, None)


def scan_pull(path: Path, plate: Plate, printing: Printing, seed: int) -> SheetMap:
    """Write the scan of one pull and return its map before the file was cropped, turned or mirrored."""
    rng = np.random.default_rng([seed, 43])
    pull = sound_pull(plate, RECIPE, rng)
    pull.core = pull.core * printing.ink
    pull.width_um = pull.width_um * (1 + 0.5 * (printing.ink - 1))
    pull.tone_ink = printing.ink
    pull.film_offset = printing.film
    px_per_mm = printing.ppi / 25.4
    m, size = random_map(rng, (plate.width_mm, plate.height_mm), px_per_mm, printing.stretch)
    blur = 0.018 * px_per_mm
    light = draw_sheet(plate, RECIPE, pull, m, size, STOCK, (px_per_mm, blur), rng)
    if printing.crop_mm is not None:
        x0, y0, x1, y1 = printing.crop_mm
        corners = np.array([(x0, y0), (x1, y1)]) @ m.affine[:, :2].T + m.affine[:, 2]
        (a, b), (c, d) = np.rint(corners).astype(int)
        light = light[max(b, 0) : d, max(a, 0) : c]
    if printing.mirrored:
        light = light[:, ::-1]
    light = np.ascontiguousarray(np.rot90(light, printing.turned))
    cv2.setRNGSeed(int(rng.integers(1, 2**31)))
    capture = Capture(int(printing.ppi), "sRGB", 8, 1, 0.005, 18.0, "deflate", 0.004)
    write_scan(path, light, capture, [(1.0, 1.0)])
    return m


def copied(plate: Plate, seed: int, apart_mm: float) -> Plate:
    """Return another plate with the same picture: each stroke cut anew beside its model, wandering a little.

    `apart_mm` is the standard deviation of a stroke's distance from its model.
    """
    rng = np.random.default_rng([seed, 47])
    parts = []
    for one in pieces(plate.strokes):
        count = len(one.points_mm)
        wander = np.stack([smoothed_noise(rng, count, 30.0) for _ in (0, 1)], axis=1)
        moved = one.points_mm + apart_mm * (0.8 * rng.standard_normal(2) + 0.6 * wander)
        parts.append(
            Strokes(
                moved,
                one.width_um * (1 + 0.08 * rng.standard_normal()),
                np.clip(one.depth * (1 + 0.08 * rng.standard_normal()), 0.05, 1),
                one.start,
                one.burr,
            )
        )
    return replace(plate, strokes=joined(parts))
