"""Whether areas of tone that changed between two states are told, in kind, place and size, and nothing else."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from shapely import union_all
from shapely.geometry import Polygon

from proofkit.compare import compare
from proofkit.laying.types import to_plate_mm
from tests.accuracy.rows import Row, errors_row
from tests.accuracy.states import SIZE, write_pulls
from tests.heldout.geometry import SheetMap, to_px
from tests.heldout.toned import TonedStates, toned_states

BESIDE_MM = 0.5
"""What is told this near to the edge of a changed area is of it: the side of a cell."""

OVERLAP = 0.5
"""An area is found when what is told covers it, and little else, by this share of both together."""


def draw_toned_pair(
    folder: Path, seed: int, size_mm: tuple[float, float] = SIZE
) -> tuple[TonedStates, SheetMap]:
    """Write two pulls of each of two states, ink, film and stretch as in `draw_pair`; return the first pull's map."""
    rng = np.random.default_rng([seed, 107])
    two = toned_states(seed, size_mm)
    seeds = [7000 + 10 * seed + 2 * later + k for later in (0, 1) for k in (1, 2)]
    maps = write_pulls(folder, rng, two, seeds)
    return two, maps[0]


def tone_rows(under: Path, seeds: Sequence[int]) -> tuple[list[Row], list[str]]:
    """Return the rows on tones: two pulls of each state, one of each, and two pulls of one state."""
    found, changed, right, true, false, sizes, stray = 0, 0, 0, 0, 0.0, [], 0.0
    told_mm2, seen_in_one, seen_in_same, notes = 0.0, 0, 0, []
    for seed in seeds:
        print(f"tones of plate {seed} ...", flush=True)
        folder = under / f"tones{seed}"
        two, m = draw_toned_pair(folder, seed)
        a, b = folder / "a", folder / "b"
        both = compare(a, b, out=folder / "double")
        base = both.compared.pulls[0].laid
        told = [area for area in both.compared.areas if area.tone_density is not None]
        shapes = [Polygon(area.outline_mm).buffer(0) for area in told]
        rings = []
        for one in two.changes:
            ring = to_plate_mm(base.laying, to_px(m, np.array(one.outline.exterior.coords)))
            outline = Polygon(ring).buffer(0)
            shares = [s.intersection(outline).area / s.union(outline).area for s in shapes]
            best = int(np.argmax(shares)) if shares else -1
            is_told = best >= 0 and shares[best] >= OVERLAP
            if one.kind == "same":
                continue
            rings.append(outline)
            true += 1
            if not is_told:
                over = ", over lines" if one.over_lines else ""
                notes.append(f"plate {seed}: missed tone {one.kind} of {outline.area:.0f} mm²{over}")
                continue
            found += 1
            right += told[best].kind == one.kind
            sizes.append(told[best].area_mm2 / outline.area - 1)
        worked = union_all([ring.buffer(BESIDE_MM) for ring in rings])
        for area, shape in zip(told, shapes, strict=True):
            told_mm2 += shape.area
            beyond = shape.difference(worked).area
            false += beyond
            if beyond > 0.5 * shape.area:
                x, y = area.outline_mm.mean(axis=0)
                notes.append(
                    f"plate {seed}: false tone {area.kind} of {area.area_mm2:.0f} mm² at {x:.1f}, {y:.1f}"
                )
        stray += float(both.changes["length_mm"].sum())
        one_each = compare(a / "a1.tif", b / "b1.tif", out=folder / "single").compared
        seen_in_one += sum(
            area.tone_density is not None and area.kind != "doubtful" for area in one_each.areas
        )
        for side in (a, b):
            pulls = sorted(side.iterdir())
            same = compare(pulls[0], pulls[1], out=folder / f"same_{side.name}")
            if same.verdict != "no change" or len(same.changes) or len(same.areas):
                seen_in_same += 1
                notes.append(f"plate {seed}, state {side.name}: a change is seen on two pulls of one state")
            changed += 1
    return [
        Row("tones: areas that changed, found", found / max(true, 1), "", 0.95, ">=", true),
        Row("tones: of these told as what they are", right / max(found, 1), "", 0.95, ">=", found),
        Row("tones: area told that did not change", false / max(told_mm2, 1e-9), "", 0.02, "<=", int(told_mm2)),
        errors_row("tones: size of areas, relative", sizes, "", None),
        Row("tones: mm of stroke told on plates without new strokes", stray, "mm", None, "<=", len(seeds)),
        Row("tones: told without doubt from one pull of each", seen_in_one, "", 0.0, "<=", len(seeds)),
        Row("tones: pairs of one state in which a change is seen", seen_in_same, "", 0.0, "<=", changed),
    ], notes  # fmt: skip
