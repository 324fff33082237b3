"""A small edition drawn by formula: hatching, cross-hatching, open ground, hand work, and faults.

The plate is 24 x 30 mm. Hatching: lines of 60 µm every 0.2 mm at 30 degrees. Cross-hatching: lines of 50 µm
every 0.2 mm and every 0.25 mm at right angles. Open ground: nothing. Hand work above and below holds the sheet
in place.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from proofkit.folder.edition import Capture, Edition, Pull, Region, rectangle
from proofkit.sheet import make_standard, measure_sheet
from tests.laying.plates import BLUR, SHAPE, SIZE, Lie, corners, hand_hatching, lie
from tests.lines.drawn import clear_light, hatching, plane_of
from tests.scan.scan_files import write_tiff

STRAIGHT = lie()

REGIONS = (
    Region("hatch", "lines", rectangle(10.0, 19.0, 14.0, 23.0)),
    Region("cross", "lines", rectangle(2.0, 19.0, 6.0, 23.0)),
    Region("open", "open", rectangle(17.2, 18.6, 22.6, 23.4)),
    Region("open, asked for lines", "lines", rectangle(17.4, 18.8, 22.4, 23.2)),
    Region("hand", "lines", rectangle(1.3, 1.3, 22.7, 16.0)),
    Region("foot", "lines", rectangle(1.3, 24.5, 22.7, 28.7)),
)


BEVEL_MM = 0.3
"""Width of the inked bevel along the plate mark."""


@cache
def drawn_plate():
    """Strokes as (n, 5) x0, y0, x1, y1, width. [mm]"""
    hand = hand_hatching()
    middle = hand[:, 1:4:2].mean(axis=1)
    hand = hand[(middle < 18) | (middle > 24)]
    hatch = hatching(30, 0.2, 0.06, middle=(12.0, 21.0), length=6.0, lines=29)
    one = hatching(0, 0.2, 0.05, middle=(4.0, 21.0), length=5.0, lines=24)
    other = hatching(90, 0.25, 0.05, middle=(4.0, 21.0), length=5.0, lines=20)
    return np.vstack((hand, hatch, one, other))


@dataclass(frozen=True)
class Proof:
    """How one sheet was pulled."""

    film: float = 0.03
    """Density of film on the plate."""
    depth: float = 0.93
    ghost_mm: tuple[float, float] | None = None
    ghost_share: float = 0.3
    crease_mm: tuple[tuple[float, float], tuple[float, float]] | None = None
    specks_mm: tuple[tuple[float, float], ...] = ()
    how: Lie = STRAIGHT
    strokes: np.ndarray | None = None
    seed: int = 5
    set_off: float = 0.0
    """Density of a mirrored ghost of the plate where that is full black. [D]"""
    set_off_mm: tuple[float, float] = (0.0, 0.0)
    """Shift of the mirrored plate."""
    set_off_turn_deg: float = 0.0
    bevel: float = 0.0
    """Density of ink on the bevel, beside the film. [D]"""


@cache
def usual_light(depth):
    """Light that the strokes leave on an unstretched sheet."""
    how = lie()
    return clear_light(drawn_plate(), SHAPE, BLUR, place=how.place, back=how.back, depth=depth)


def light_of(proof):
    """Share of light over the whole scan."""
    strokes = drawn_plate() if proof.strokes is None else proof.strokes
    rows, columns = np.mgrid[: SHAPE[0], : SHAPE[1]]
    mm = proof.how.back(np.column_stack((columns.ravel(), rows.ravel())).astype(float))
    if proof.strokes is None and proof.how is STRAIGHT:
        light = usual_light(proof.depth).copy()
    else:
        light = clear_light(
            strokes, SHAPE, BLUR, place=proof.how.place, back=proof.how.back, depth=proof.depth
        )
    if proof.ghost_mm is not None:
        second = strokes + np.array((*proof.ghost_mm, *proof.ghost_mm, 0))
        depth = proof.depth * proof.ghost_share
        light *= clear_light(second, SHAPE, BLUR, place=proof.how.place, back=proof.how.back, depth=depth)
    if proof.set_off:
        mirrored = _mirrored(strokes, proof.set_off_mm, proof.set_off_turn_deg)
        left = clear_light(
            mirrored, SHAPE, BLUR, place=proof.how.place, back=proof.how.back, depth=proof.depth
        )
        light *= 10 ** (-proof.set_off * (1 - left))
    if proof.crease_mm is not None:
        start, end = np.array(proof.crease_mm)
        along = (end - start) / np.linalg.norm(end - start)
        t, d = (mm - start) @ along, (mm - start) @ [-along[1], along[0]]
        slit = (t > 0) & (t < np.linalg.norm(end - start)) & (np.abs(d) < 0.2)
        light[slit.reshape(SHAPE)] = 1.0
    inside = ((mm > 0) & (mm < SIZE)).all(axis=1).reshape(SHAPE)
    light[inside] *= 10**-proof.film
    if proof.bevel:
        deep = ((mm > BEVEL_MM) & (mm < np.array(SIZE) - BEVEL_MM)).all(axis=1).reshape(SHAPE)
        light[inside & ~deep] *= 10**-proof.bevel
    for x, y in proof.specks_mm:
        light[(np.hypot(mm[:, 0] - x, mm[:, 1] - y) < 0.12).reshape(SHAPE)] *= 0.3
    return light


def _mirrored(strokes, shift_mm, turn_deg):
    """Strokes of the mirrored plate, turned about its middle (clockwise, as y runs down) and shifted."""
    a = np.radians(turn_deg)
    turn, middle = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]), np.array(SIZE) / 2
    ends = [
        (xy * [-1, 1] + [SIZE[0], 0] - middle) @ turn.T + middle + shift_mm
        for xy in (strokes[:, :2], strokes[:, 2:4])
    ]
    return np.column_stack((*ends, strokes[:, 4]))


def write_proof(folder: Path, name: str, proof: Proof, *, rows=None) -> Pull:
    """Write the scan of a proof; its corners are given by hand, so that no plate mark need be found."""
    (folder / "scans").mkdir(exist_ok=True)
    write_tiff(folder / "scans" / f"{name}.tif", plane_of(light_of(proof), seed=proof.seed)[:rows])
    return Pull(name, f"{name}.tif", corners_px=corners(proof.how))


def write_picture(folder: Path, name: str, plane, *, corners_px=None) -> Pull:
    write_tiff(folder / "scans" / f"{name}.tif", plane)
    return Pull(name, f"{name}.tif", corners_px=corners_px)


def edition_of(folder: Path, *pulls: Pull, regions=REGIONS) -> Edition:
    return Edition(
        folder, "Drawn by formula", pulls, regions, standard="standard", plate_width_mm=SIZE[0],
        plate_height_mm=SIZE[1], capture=Capture(tone_curve="linear"),
    )  # fmt: skip


@dataclass(frozen=True)
class Bench:
    """A standard, and the measures of any other proof against it."""

    folder: Path
    edition: Edition
    standard: object

    def measure(self, name: str, proof: Proof, **settings):
        return measure_sheet(self.edition, write_proof(self.folder, name, proof, **settings), self.standard)

    def rows(self, name: str, proof: Proof):
        return by_region(self.measure(name, proof))


def by_region(result):
    return {row["region"]: row for row in result.rows}


def make_bench(folder: Path) -> Bench:
    pull = write_proof(folder, "standard", Proof(seed=1))
    edition = edition_of(folder, pull)
    return Bench(folder, edition, make_standard(edition, pull))
