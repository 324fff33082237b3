"""Two states of a plate that differ in its areas of tone alone, with what was done to each of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from shapely import contains_xy, union_all
from shapely.geometry import Polygon

from tests.heldout.plate import Plate, Strokes, random_plate
from tests.heldout.states import _part, joined, pieces
from tests.heldout.tone import Tone, blob

KINDS = ("same", "same", "added", "removed", "deepened", "lightened")

PALE = (0.20, 0.40)
"""Coverage of a first short bite: 0.09 to 0.19 D with ink of 1.1 D."""

FURTHER = (0.15, 0.30)
"""What a further bite adds to the coverage, or the burnisher takes: 0.1 to 0.25 D."""

OVER_LINES = 0.3
"""Share of the areas that lie over line work; in the others the ground is free."""


@dataclass(frozen=True, slots=True, eq=False)
class ToneChange:
    """What was done to one area."""

    kind: str
    """same, added, removed, deepened or lightened."""
    outline: Polygon
    """On the copper. [mm]"""
    over_lines: bool


@dataclass(frozen=True, slots=True, eq=False)
class TonedStates:
    """The copper before and after."""

    before: Plate
    after: Plate
    changes: tuple[ToneChange, ...]


def toned_states(seed: int, size_mm: tuple[float, float]) -> TonedStates:
    """Return a plate with six areas of tone at most, two of which were left alone between the states."""
    rng = np.random.default_rng([seed, 101])
    plate = random_plate(seed, size_mm)
    outlines: list[Polygon] = []
    for _ in range(400):
        radius = rng.uniform(2.5, 5.0)
        one = blob(rng, rng.uniform(radius + 2, np.array(size_mm) - radius - 2), radius)
        if all(one.distance(other) > 1.5 for other in outlines) and one.within(
            Polygon([(2, 2), (size_mm[0] - 2, 2), (size_mm[0] - 2, size_mm[1] - 2), (2, size_mm[1] - 2)])
        ):
            outlines.append(one)
        if len(outlines) == len(KINDS):
            break
    before, after, changes = [], [], []
    for number, (kind, outline) in enumerate(zip(KINDS, outlines, strict=False)):
        pale, more = rng.uniform(*PALE), rng.uniform(*FURTHER)
        tone = Tone(outline, pale, 1.1, rng.uniform(0.08, 0.25), 100 * seed + number)
        darker = replace(tone, coverage=pale + more)
        one, other = {
            "same": (darker, darker), "added": (None, darker), "removed": (tone, None),
            "deepened": (tone, darker), "lightened": (darker, tone),
        }[kind]  # fmt: skip
        before += [] if one is None else [one]
        after += [] if other is None else [other]
        changes.append(ToneChange(kind, outline, bool(rng.uniform() < OVER_LINES)))
    free = [change.outline.buffer(0.3) for change in changes if not change.over_lines]
    strokes = _outside(plate.strokes, union_all(free)) if free else plate.strokes
    plate = replace(plate, strokes=strokes)
    return TonedStates(
        replace(plate, tones=tuple(before)), replace(plate, tones=tuple(after)), tuple(changes)
    )


def _outside(strokes: Strokes, areas: Polygon) -> Strokes:
    parts = []
    for one in pieces(strokes):
        keep = ~contains_xy(areas, one.points_mm[:, 0], one.points_mm[:, 1])
        edges = np.flatnonzero(np.diff(np.concatenate(([0], keep.astype(np.int8), [0]))))
        parts += [_part(one, slice(a, b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= 6]
    return joined(parts)
