"""What was planted, as numbers per pull and region."""

from dataclasses import replace

import numpy as np
import pandas as pd
import shapely

from tests.simulate import kernels
from tests.simulate.hand import Pull
from tests.simulate.ink import Inked, core_load_um, ink_plate, load_um, segment_ends
from tests.simulate.mapping import to_px
from tests.simulate.noise import grain_tile
from tests.simulate.plate import KINDS, Plate, PlateRegion, flatten
from tests.simulate.render import Rendered

PITCH_UM = 20.0
"""Pitch of the picture of the plate on which area shares are counted. [µm]"""
GRID_MM = 4.0
AFFECTED_LOAD = 0.03
"""A region counts as touched by a fault when its line load moves by this, relative, ..."""
AFFECTED_FILM_DENSITY = 0.008
"""... or its film by this. [D]"""


def take_fraction(contact: float) -> float:
    """Return the mean share of ink that the paper's grain takes. [-]"""
    grain = grain_tile(15.0, 7)
    return float(np.clip((contact - grain) * 2.5 + 0.5, 0, 1).mean()) if contact < 9 else 1.0


def coverage(inked: Inked, plate: Plate) -> np.ndarray:
    """Return the share of each 20 µm cell of the plate that is under line, (rows, columns) float32."""
    first = segment_ends(inked.work)
    ends = (
        np.concatenate((inked.work.points_mm[first], inked.work.points_mm[first + 1]), axis=1)
        * 1000
        / PITCH_UM
        - 0.5
    )
    shape = np.zeros((len(first), 7))
    shape[:, 0] = inked.width_um[first] / 2 / PITCH_UM
    shape[:, 1] = inked.width_um[first + 1] / 2 / PITCH_UM
    shape[:, 2:4] = 1.0
    size = (round(plate.height_mm * 1000 / PITCH_UM), round(plate.width_mm * 1000 / PITCH_UM))
    picture = np.zeros(size, dtype=np.float32)
    kernels.draw_strokes(picture, 0, 0, ends, shape, grain_tile(15.0, 7), np.zeros(2, np.int64), 0.0, 10.0)
    return picture


def _mean_inside(region: PlateRegion, picture: np.ndarray) -> float:
    """Return the mean of a picture of the plate over a region."""
    step = PITCH_UM / 1000
    x0, y0, x1, y1 = (int(edge / step) for edge in region.outline_mm.bounds)
    xs = (np.arange(x0, x1 + 1) + 0.5) * step
    ys = (np.arange(y0, y1 + 1) + 0.5) * step
    inside = shapely.contains_xy(region.outline_mm, *np.meshgrid(xs, ys))
    return float(picture[y0 : y1 + 1, x0 : x1 + 1][inside].mean())


def _weighted_median(values: np.ndarray, weights: np.ndarray) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])


def region_truth(inked: Inked, plate: Plate) -> pd.DataFrame:
    """Return planted measures of every region, one row a region.

    Film: mean over the region's unworked ground, as density [D]. Lines (without grain of textures): line load and width
    as means weighted with line length, load also as weighted median and without burr or
    halo [µm]; length per area [mm/mm²]. Area share: of the
    region under lines and grain [-]. Load and film count what the paper takes, so broken lines count as paler ones.
    """
    covered = coverage(inked, plate)
    take = take_fraction(inked.contact)
    first = segment_ends(inked.work)
    points = inked.work.points_mm
    middle = (points[first] + points[first + 1]) / 2
    length = np.hypot(*(points[first + 1] - points[first]).T)
    load = load_um(inked)[first] * take
    core = core_load_um(inked)[first] * take
    drawn = inked.work.kind[first] != KINDS.index("soft-ground")
    small = covered[: covered.shape[0] // 10 * 10, : covered.shape[1] // 10 * 10]
    open_share = 1 - small.reshape(small.shape[0] // 10, 10, -1, 10).mean(axis=(1, 3))
    rows = []
    for region in plate.regions:
        film_inside = shapely.contains_xy(region.outline_mm, *np.moveaxis(inked.film_points, -1, 0))
        film_inside &= (
            np.pad(open_share, ((0, 9), (0, 9)))[: film_inside.shape[0], : film_inside.shape[1]] > 0.02
        )
        open_here = np.pad(open_share, ((0, 9), (0, 9)))[: film_inside.shape[0], : film_inside.shape[1]][
            film_inside
        ]
        light = 1 - take * (1 - 10.0 ** -inked.film[film_inside])
        film = -np.log10((light * open_here).sum() / open_here.sum())
        here = drawn & shapely.contains_xy(region.outline_mm, middle[:, 0], middle[:, 1])
        weights = length[here]
        row: dict[str, object] = {"region": region.name, "plate_tone_density": film}
        if weights.sum() > 2.0:
            row |= {
                "line_load_um": np.average(load[here], weights=weights),
                "line_load_median_um": _weighted_median(load[here], weights),
                "line_core_load_um": np.average(core[here], weights=weights),
                "line_width_um": np.average(inked.width_um[first][here], weights=weights),
                "line_length_mm_per_mm2": weights.sum() / region.outline_mm.area,
            }
        row["line_area_fraction"] = _mean_inside(region, covered)
        rows.append(row)
    columns = [
        "region",
        "plate_tone_density",
        "line_load_um",
        "line_load_median_um",
        "line_core_load_um",
        "line_width_um",
    ]
    return pd.DataFrame(rows).reindex(columns=[*columns, "line_length_mm_per_mm2", "line_area_fraction"])


def affected_regions(plate: Plate, pull: Pull, planted: pd.DataFrame, seed: int) -> list[str]:
    """Return the regions whose line load or film the pull's faults moved."""
    if not pull.faults:
        return []
    everywhere = {"doubled": plate.regions}
    if any(fault.cause in everywhere for fault in pull.faults):
        return [region.name for region in plate.regions]
    creases = [fault.crease for fault in pull.faults if fault.crease]
    folds = [shapely.LineString([crease.start_mm, crease.end_mm]) for crease in creases]
    good = region_truth(ink_plate(plate, flatten(plate), replace(pull, faults=()), seed), plate)
    worked = np.array([region.work != "open" for region in plate.regions])
    load = worked & ((planted["line_load_um"] / good["line_load_um"] - 1).abs() > AFFECTED_LOAD)
    film = (planted["plate_tone_density"] - good["plate_tone_density"]).abs() > AFFECTED_FILM_DENSITY
    crossed = [any(fold.intersects(region.outline_mm) for fold in folds) for region in plate.regions]
    return list(planted["region"][load | film | np.array(crossed)])


def grid_truth(rendered: Rendered) -> pd.DataFrame:
    """Return plate points on a grid of 4 mm and their true scan pixels."""
    xs = np.arange(0, rendered.plate.width_mm + 1e-6, GRID_MM)
    ys = np.arange(0, rendered.plate.height_mm + 1e-6, GRID_MM)
    points = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    px = to_px(rendered.mapping, points)
    return pd.DataFrame({"x_mm": points[:, 0], "y_mm": points[:, 1], "x_px": px[:, 0], "y_px": px[:, 1]})


def sheet_truth(rendered: Rendered) -> dict[str, object]:
    """Return the true stretch, turn and corners of a sheet."""
    pull, plate = rendered.pull, rendered.plate
    corners = np.array(
        [(0, 0), (plate.width_mm, 0), (plate.width_mm, plate.height_mm), (0, plate.height_mm)], float
    )
    px = to_px(rendered.mapping, corners)
    row: dict[str, object] = {
        "pull": pull.number, "stretch_x": pull.stretch[0], "stretch_y": pull.stretch[1], "shear": pull.shear,
        "rotation_deg": pull.rotation_deg, "mirrored": pull.mirrored,
    }  # fmt: skip
    for name, (x, y) in zip(("tl", "tr", "br", "bl"), px, strict=True):
        row |= {f"{name}_x_px": x, f"{name}_y_px": y}
    return row
