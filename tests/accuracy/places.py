"""``python -m tests.accuracy.places``: plant small marks in held-out editions and tell how many come out as places."""

import argparse
import tempfile
import tomllib
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import tifffile
from scipy.interpolate import RectBivariateSpline

from tests.accuracy.marks import FOUND_MM, Mark, draw_marks, found_and_false, plant
from tests.accuracy.rows import Row, lines_of
from tests.heldout.edition import Order, write_edition

ORDERS = (
    Order(41, 10, 600, faults=False, size_mm=(50.0, 44.0)),
    Order(42, 10, 600, faults=False, size_mm=(50.0, 44.0)),
    Order(44, 10, 400, faults=False, size_mm=(58.0, 52.0)),
)
A_SHEET = 12
"""Marks planted in every second sheet."""

MARGIN_MM = (1.5, 2.0, 2.5)
"""Distances from the plate mark at which paper is bare and flat again."""

FOUND = 95.0
FALSE = 1.0


def linear_of(codes: np.ndarray, curve: str) -> np.ndarray:
    """Return codes as linear light 0 to 1; sRGB after IEC 61966-2-1."""
    share = codes / np.iinfo(codes.dtype).max
    if curve == "sRGB":
        return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return share if curve == "linear" else share ** float(curve.split()[1])


def codes_of(linear: np.ndarray, curve: str, dtype: np.dtype) -> np.ndarray:
    """Return linear light as codes."""
    linear = np.clip(linear, 0, 1)
    if curve == "sRGB":
        share = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    else:
        share = linear if curve == "linear" else linear ** (1 / float(curve.split()[1]))
    return np.rint(share * np.iinfo(dtype).max).astype(dtype)


def true_map(grid: pd.DataFrame):
    """Return the function from plate mm to scan px: an affine map and splines through what it leaves."""
    x, y = np.unique(grid["x_mm"]), np.unique(grid["y_mm"])
    design = np.column_stack((grid[["x_mm", "y_mm"]], np.ones(len(grid))))
    fit = np.linalg.lstsq(design, grid[["x_px", "y_px"]].to_numpy(), rcond=None)[0]
    rest = grid[["x_px", "y_px"]] - design @ fit
    splines = [
        RectBivariateSpline(
            x, y, grid.assign(r=rest[c]).pivot_table(index="x_mm", columns="y_mm", values="r").to_numpy()
        )
        for c in ("x_px", "y_px")
    ]

    def to_px(points: np.ndarray) -> np.ndarray:
        flat = np.column_stack((points, np.ones(len(points)))) @ fit
        return flat + np.stack([s.ev(points[:, 0], points[:, 1]) for s in splines], axis=1)

    return to_px


def margin_px(to_px, size_mm: tuple[float, float], shape: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Return rows and columns of bare paper along the upper plate mark, whatever lies about the sheet."""
    x, y = np.meshgrid(np.linspace(0.1, 0.9, 200) * size_mm[0], -np.asarray(MARGIN_MM))
    columns, rows = np.rint(to_px(np.column_stack((x.ravel(), y.ravel())))).astype(int).T
    inside = (columns >= 0) & (rows >= 0) & (columns < shape[1]) & (rows < shape[0])
    return rows[inside], columns[inside]


def plant_in_scan(path: Path, to_px, size_mm: tuple[float, float], curve: str, rng) -> list[Mark]:
    """Plant marks in a scan file and return them."""
    with tifffile.TiffFile(path) as file:
        codes, page = file.asarray(), file.pages[0]
        ppi = page.tags["XResolution"].value
    planes = codes if codes.ndim == 3 else codes[..., None]
    light = linear_of(planes.mean(axis=2).astype(codes.dtype), curve)
    per_mm = ppi[0] / ppi[1] / 25.4
    beside = margin_px(to_px, size_mm, light.shape)
    paper = float(np.median(light[beside]))

    def ink_at(x_mm: float, y_mm: float) -> float:
        x, y = to_px(np.array([[x_mm, y_mm]]))[0]
        r = int(0.4 * per_mm)
        return 1 - float(light[int(y) - r : int(y) + r + 1, int(x) - r : int(x) + r + 1].mean()) / paper

    marks = draw_marks(rng, size_mm, A_SHEET, ink_at)
    for channel in range(planes.shape[2]):
        plane = linear_of(planes[..., channel], curve)
        level = float(np.median(plane[beside]))
        for mark in marks:
            plant(plane, mark, to_px, level, 1.0)
        planes[..., channel] = codes_of(plane, curve, codes.dtype)
    tifffile.imwrite(
        path,
        planes if codes.ndim == 3 else planes[..., 0],
        photometric="rgb" if codes.ndim == 3 else "minisblack",
        resolution=(ppi[0] / ppi[1],) * 2,
        resolutionunit="INCH",
    )
    return marks


def planted_edition(order: Order, folder: Path) -> dict[str, list[Mark]]:
    """Draw an edition without faults and plant marks in every second sheet; pull -> its marks."""
    write_edition(folder, order)
    settings = folder / "edition.toml"
    curve = tomllib.loads(settings.read_text())["capture"]["tone_curve"]
    # Marks are planted in mm of the copper; without its size places are told in mm of the standard's paper.
    text = settings.read_text()
    if "plate_width_mm" not in text:
        settings.write_text("plate_width_mm = {}\nplate_height_mm = {}\n".format(*order.size_mm) + text)
    grids = pd.read_csv(folder / "truth" / "grid.csv", dtype={"pull": str})
    pulls = pd.read_csv(folder / "pulls.csv", dtype=str)
    planted: dict[str, list[Mark]] = {}
    for k, (pull, scan) in enumerate(zip(pulls["pull"], pulls["scan"], strict=True)):
        planted[pull] = []
        if k % 2:
            rng = np.random.default_rng([order.seed, k, 9])
            to_px = true_map(grids[grids["pull"] == pull])
            planted[pull] = plant_in_scan(folder / "scans" / scan, to_px, order.size_mm, curve, rng)
    return planted


def main() -> int:
    from proofkit.check import check  # noqa: PLC0415  only here: drawing does not need it

    parser = argparse.ArgumentParser(prog="python -m tests.accuracy.places", description=__doc__)
    parser.add_argument("--seed", type=int, action="append", help="draw an edition of this seed instead")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    orders = [Order(seed, 10, 600, faults=False, size_mm=(50.0, 44.0)) for seed in given.seed or []] or ORDERS
    tables, false, sheets = [], [], 0
    for order in orders:
        with tempfile.TemporaryDirectory() as scratch:
            planted = planted_edition(order, Path(scratch))
            places = check(scratch).places
        rows, stray = found_and_false(planted, places)
        tables.append(rows.assign(seed=order.seed))
        false.append(stray.assign(seed=order.seed))
        sheets += len(planted)
    table, strays = pd.concat(tables), pd.concat(false)
    found = table["nearest_mm"] <= FOUND_MM
    rows = [Row("planted marks found within 0.3 mm", 100 * found.mean(), "%", FOUND, ">=", len(table))]
    for name, part in (
        ("specks", table["dark"]),
        ("bare spots", ~table["dark"] & ~table["slit"]),
        ("slits", table["slit"]),
    ):
        rows.append(Row(f"  {name}", 100 * found[part].mean(), "%", None, ">=", int(part.sum())))
    off = float(np.percentile(table["nearest_mm"][found], 95))
    rows.append(Row("distance of a place from its mark, 95 %", off, "mm", 0.3, "<=", int(found.sum())))
    rows.append(Row("false places per 5 sheets", 5 * len(strays) / sheets, "", FALSE, "<=", sheets))
    print("\n".join(lines_of(rows)))
    print("\nMissed:\n", table[~found].to_string(), "\n\nFalse:\n", strays.to_string())
    return 0 if all(row.holds is not False for row in rows) else 1


if __name__ == "__main__":
    raise SystemExit(main())
