"""Write a whole held-out edition: folder, scans and truth."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from shapely import affinity

from tests.heldout.fields import random_waves
from tests.heldout.geometry import SheetMap, cells, decompose, grid, random_map, to_px
from tests.heldout.ink import COURSES, FAULTS, Impression, Recipe, sound_pull, wear
from tests.heldout.plate import Plate, random_plate
from tests.heldout.scanner import Capture, write_scan
from tests.heldout.sheet import Stock, draw_sheet
from tests.heldout.truth import measures


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked for."""

    seed: int
    sheets: int = 16
    ppi: int = 600
    faults: bool = True
    size_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Mishap:
    """What goes wrong with one pull."""

    cause: str
    second: str
    strength: float


def any_capture(rng: np.random.Generator, ppi: int) -> tuple[Capture, list[float]]:
    """Return how an edition is scanned, drawn at random, and the level of its paper in each channel."""
    bits = int(rng.choice([8, 16]))
    curve = str(
        rng.choice(["sRGB", "gamma 2.2", "gamma 1.8"] if bits == 8 else ["sRGB", "linear", "gamma 2.2"])
    )
    channels = int(rng.choice([1, 3]))
    paper = [1.0] if channels == 1 else [1.03, 1.0, float(rng.uniform(0.82, 0.98))]
    compression = [None, "deflate", "lzw"][rng.integers(0, 3)]
    noise = rng.uniform(0.004, 0.007)
    return Capture(
        ppi, curve, bits, channels, noise, rng.uniform(14, 24), compression, rng.uniform(0.002, 0.010)
    ), paper


def any_recipe(rng: np.random.Generator) -> Recipe:
    """Return what all pulls of an edition share, drawn at random."""
    film = float(rng.choice([0.012, 0.03, 0.06, 0.11]))
    return Recipe(film, 0.25 * film, rng.uniform(1.2, 1.45), random_waves(rng, 40.0), 0.06 * film)


def any_stock(rng: np.random.Generator) -> Stock:
    """Return paper and scanner bed of an edition, drawn at random."""
    bed = [None, None, 0.03, 0.95][rng.integers(0, 4)]
    return Stock(rng.uniform(0.70, 0.93), rng.uniform(0.006, 0.012), bed)


def _mishaps(rng: np.random.Generator, order: Order, kept: set[int]) -> dict[int, Mishap]:
    """Return which pull has which fault: over a third of them, kinds in a shuffled round so that all come up."""
    if not order.faults:
        return {}
    free = [k for k in range(order.sheets) if k not in kept]
    count = min(len(free), round(0.42 * order.sheets))
    chosen = sorted(rng.choice(free, count, replace=False))
    names = list(FAULTS)
    # The round goes on from seed to seed, so that a few editions hold every fault.
    first = 7 * order.seed
    result = {}
    for turn, k in enumerate(chosen):
        cause = names[(first + turn) % len(names)]
        second = ""
        if rng.uniform() < 0.15:
            second = str(
                rng.choice([n for n in ("specks", "bevel ink", "wipe streaks", "crease") if n != cause])
            )
        result[int(k)] = Mishap(cause, second, 1.0 if turn % 2 == 0 else 0.6)
    return result


def _course_strength(order: Order, k: int, standard: int) -> dict[str, float]:
    """Return what has crept over the pulls by pull `k`, against the standard."""
    if not order.faults:
        return {}
    kind = order.seed % 4
    if kind == 3:
        return {"plate wear": max(0.0, (k - standard) / (order.sheets - 1 - standard))}
    if kind == 1 and k >= order.sheets - 3:
        return {"ink batch": 1.0}
    if kind == 0:
        return {"burr loss": max(0.0, (k - standard) / (order.sheets - 1 - standard))}
    return {}


def write_edition(folder: Path, order: Order) -> None:
    """Write one edition under `folder`; the same order gives the same files."""
    rng = np.random.default_rng([order.seed, order.ppi, 2])
    plate = random_plate(order.seed, order.size_mm)
    recipe, stock = any_recipe(rng), any_stock(rng)
    capture, paper = any_capture(rng, order.ppi)
    base = (1 - rng.uniform(0, 0.012), 1 - rng.uniform(0, 0.012))
    standard = int(rng.integers(1, 3))
    confirming = [standard + 1, standard + 2, standard + 3][: max(0, order.sheets - standard - 2)]
    mishaps = _mishaps(rng, order, {standard, *confirming})
    for name in ("scans", "truth"):
        (folder / name).mkdir(parents=True, exist_ok=True)
    tables: dict[str, list[dict[str, object]]] = {"pulls": [], "sheets": [], "measurements": [], "grid": []}
    log = []
    has_burr = any(f.note == "burr" for f in plate.fields)
    for k in range(order.sheets):
        own = np.random.default_rng([order.seed, order.ppi, 3, k])
        pull = sound_pull(plate, recipe, own)
        mishap = mishaps.get(k)
        if mishap:
            FAULTS[mishap.cause](plate, pull, mishap.strength, own)
            if mishap.second:
                FAULTS[mishap.second](plate, pull, 0.6 * mishap.strength, own)
        course = {
            c: s for c, s in _course_strength(order, k, standard).items() if c != "burr loss" or has_burr
        }
        for cause, strength in course.items():
            if cause == "plate wear":
                wear(plate, pull, strength)
            else:
                COURSES[cause](plate, pull, strength, own)
        m, size = random_map(own, (plate.width_mm, plate.height_mm), order.ppi / 25.4, base)
        if pull.crease is not None:
            m = SheetMap(m.affine, m.centres, m.reach, m.push, m.level, pull.crease[:3])
        _scan_one(
            folder / "scans" / f"sheet_{k + 1:02d}.tif",
            plate,
            recipe,
            pull,
            m,
            size,
            stock,
            capture,
            paper,
            own,
        )
        name = str(k + 1)
        tables["pulls"].append(_what_happened(name, mishap, course, pull))
        _keep_truth(tables, name, plate, recipe, pull, m, order.ppi / 25.4)
        log.append(
            {
                "pull": name,
                "scan": f"sheet_{k + 1:02d}.tif",
                "kind": "edition",
                "designation": f"{k + 1}/{order.sheets}",
                "embossing": pull.embossing_note or "good",
                "paper": "wove",
                "ink": "mix 1",
            }
        )
    for name, rows in tables.items():
        _write_csv(folder / "truth" / f"{name}.csv", rows)
    _write_csv(folder / "pulls.csv", log)
    seen = tables["sheets"][standard]
    scale = (
        (1.0, 1.0) if _size_is_given(order) else tuple(float(str(seen[f"stretch_{axis}"])) for axis in "xy")
    )
    _write_csv(
        folder / "regions.csv",
        [
            {"name": f.name, "work": f.work, "wkt": _wkt(affinity.scale(f.outline, *scale, origin=(0, 0)))}
            for f in plate.fields
        ],
    )
    _write_settings(folder, order, plate, standard, confirming, capture)


def _scan_one(path, plate, recipe, pull: Impression, m, size, stock, capture: Capture, paper, rng) -> None:
    px_per_mm = capture.ppi / 25.4
    light = draw_sheet(
        plate, recipe, pull, m, size, stock, (px_per_mm, capture.blur_um / 1000 * px_per_mm), rng
    )
    if pull.exposure != 1 or pull.wrong_gamma != 1:
        np.power(light, pull.wrong_gamma, out=light)
        light *= pull.exposure
    powers = pull.tint if capture.channels == 3 else (1.0,)
    tints = [(p * stock.level ** (1 - power), power) for p, power in zip(paper, powers, strict=True)]
    cv2.setRNGSeed(int(rng.integers(1, 2**31)))
    write_scan(path, light, capture, tints)


def _what_happened(
    name: str, mishap: Mishap | None, course: dict[str, float], pull: Impression
) -> dict[str, object]:
    cause, second, strength = (mishap.cause, mishap.second, mishap.strength) if mishap else ("", "", 0.0)
    for crept, s in course.items():
        if not cause and s > 0:
            cause, strength = crept, round(s, 3)
        elif s >= 0.5 and not second:
            second = crept
    return {
        "pull": name,
        "cause": cause,
        "second_cause": second,
        "strength": strength,
        "regions": "; ".join(pull.regions),
    }


def _keep_truth(
    tables, name: str, plate: Plate, recipe: Recipe, pull: Impression, m: SheetMap, px_per_mm: float
) -> None:
    points = grid(plate.width_mm, plate.height_mm)
    px = to_px(m, points)
    whole = cells(plate.width_mm, plate.height_mm)
    d = decompose(whole, to_px(m, whole), px_per_mm)
    tables["sheets"].append(
        {
            "pull": name,
            "stretch_x": f"{d.stretch_x:.6f}",
            "stretch_y": f"{d.stretch_y:.6f}",
            "shear": f"{d.shear:.6f}",
            "rotation_deg": f"{d.rotation_deg:.4f}",
            "mirrored": "true" if d.mirrored else "false",
        }
    )
    for field in plate.fields:
        found = measures(plate, recipe, pull, field)
        row: dict[str, object] = {"pull": name, "region": field.name}
        for measure in ("plate_tone_density", "line_load_um", "line_width_um", "line_length_mm_per_mm2"):
            row[measure] = f"{found[measure]:.5f}" if measure in found else ""
        row["lines_per_mm"] = "" if np.isnan(field.per_mm) else f"{field.per_mm:.3f}"
        tables["measurements"].append(row)
    for (x, y), (u, v) in zip(points, px, strict=True):
        tables["grid"].append(
            {"pull": name, "x_mm": f"{x:.1f}", "y_mm": f"{y:.1f}", "x_px": f"{u:.3f}", "y_px": f"{v:.3f}"}
        )


def _wkt(outline) -> str:
    return "POLYGON ((" + ", ".join(f"{x:.2f} {y:.2f}" for x, y in outline.exterior.coords) + "))"


def _write_csv(path: Path, rows: list[dict[str, object]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _size_is_given(order: Order) -> bool:
    """Return whether the copper was measured; without that, mm are those of the standard's paper, in regions too."""
    return order.seed % 2 == 1


def _write_settings(
    folder: Path, order: Order, plate: Plate, standard: int, confirming: list[int], capture: Capture
) -> None:
    pulls = ", ".join(f'"{k + 1}"' for k in confirming)
    size = f"plate_width_mm = {plate.width_mm}\nplate_height_mm = {plate.height_mm}\n"
    size = size if _size_is_given(order) else ""
    text = (
        f'title = "Held-out plate {order.seed}"\n{size}declared = "uniform"\nstandard = "{standard + 1}"\n'
        f'confirming = [{pulls}]\n\n[capture]\nppi = {order.ppi}\ntone_curve = "{capture.curve}"\n'
    )
    (folder / "edition.toml").write_text(text, encoding="utf-8")
