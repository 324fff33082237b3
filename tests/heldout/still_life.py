"""The sample of two states and a drawing: a jug, two pears and a bowl on a table. Remake it with
``python -m tests.heldout.still_life [FOLDER]``, from the root of the checkout.
"""

import argparse
from dataclasses import replace
from pathlib import Path

import numpy as np
from scipy.interpolate import make_interp_spline
from shapely.geometry import Polygon

from tests.heldout.drawing import Composition, draw_in_pencil, engrave, lay_drawing
from tests.heldout.fields import Array
from tests.heldout.plate import STEP_MM, Plate, _Drawer, _hatch
from tests.heldout.states import Printing, Work, joined, pieces, scan_pull, work_on

FOLDER = Path("sample_scans") / "jug_and_pears"
SIZE = (42.0, 34.0)
PPI = 450.0
DRAWING_PPI = 200.0
SEED = 4

JUG = [(9, 8), (8.2, 11), (7.0, 15), (6.6, 20), (8.4, 25), (12, 26.6), (15.6, 25), (17.4, 20), (17.0, 15), (15.8, 11),
       (15, 8), (12, 7.2), (9, 8)]  # fmt: skip
HANDLE = [(16.2, 11.6), (19.4, 11.4), (20.4, 14.6), (19.2, 18.2), (17.5, 19.4)]
SPOUT = [(9, 8), (7.2, 6.6), (8.0, 8.6)]
PEAR = [(23.2, 14.6), (22.4, 17), (20.8, 20), (21.0, 23.6), (23.4, 25.8), (26.2, 24.8), (27.2, 21.6), (26.0, 18.2),
        (24.8, 15.8), (23.2, 14.6)]  # fmt: skip
STALK = [(23.3, 14.5), (23.0, 12.8), (23.8, 11.4)]
LYING = [(28.6, 25.6), (29.0, 22.8), (31.8, 21.6), (34.6, 22.8), (37.2, 23.4), (37.6, 25.4), (35.0, 26.8), (31.2, 27.2),
         (28.6, 25.6)]  # fmt: skip
RIM = [(27.5, 12.5), (31, 11.2), (35.5, 11.6), (38.2, 13), (34.8, 14.4), (30.4, 14.2), (27.5, 12.5)]
BOWL = [(27.6, 12.9), (28.6, 16.4), (31.4, 18.6), (34.6, 18.6), (37.2, 16.4), (38.0, 13.3)]
TABLE = [(2.8, 22.5), (6.4, 22.6)]
TABLE_RIGHT = [(38.2, 21.8), (39.4, 21.8)]
EDGE = [(2.6, 29.6), (14, 29.9), (27, 29.7), (39.4, 30.0)]

CONTOURS = (JUG, HANDLE, SPOUT, PEAR, STALK, LYING, RIM, BOWL, TABLE, TABLE_RIGHT, EDGE)
PULLS = (
    ("1", "state_I_pull_1.tif", "I", Printing(ink=1.0, film=0.0, ppi=PPI)),
    ("2", "state_I_pull_2.tif", "I", Printing(ink=0.9, film=0.03, stretch=(0.994, 0.996), ppi=PPI)),
    ("3", "state_II_pull_1.tif", "II", Printing(ink=1.08, film=-0.02, stretch=(0.997, 0.993), ppi=PPI)),
    ("4", "state_II_pull_2.tif", "II", Printing(ink=0.95, film=0.02, stretch=(0.995, 0.998), ppi=PPI)),
)


def _smooth(corners: list[tuple[float, float]]) -> Array:
    """Return a smooth course through points, closed where they end as they begin."""
    points = np.array(corners)
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    closed = len(points) > 4 and np.allclose(points[0], points[-1])
    order = min(3, len(points) - 1)
    curve = make_interp_spline(along, points, k=order, bc_type="periodic" if closed else None)
    return np.asarray(curve(np.arange(0, along[-1], STEP_MM)))


def composition() -> Composition:
    """Return the contours of the still life."""
    return Composition(*SIZE, tuple(_smooth(points) for points in CONTOURS), ())


def plate() -> Plate:
    """Return the plate in its first state: contours, and hatching for the shaded sides and the wall."""
    rng = np.random.default_rng([SEED, 91])
    draw = _Drawer(rng)
    jug, pear = Polygon(_smooth(JUG)).buffer(-0.5), Polygon(_smooth(PEAR)).buffer(-0.4)
    _hatch(draw, jug.intersection(Polygon([(12.4, 7), (18, 7), (18, 27), (13.4, 27)])), 4.2, 75, 1.2)
    _hatch(draw, pear.intersection(Polygon([(24.2, 14), (28, 14), (28, 27), (24.4, 27)])), 4.6, 65, 0.9)
    _hatch(
        draw,
        Polygon(_smooth(LYING))
        .buffer(-0.4)
        .intersection(Polygon([(28, 24.6), (38, 24.6), (38, 28), (28, 28)])),
        4.6,
        60,
        0.35,
    )
    _hatch(draw, Polygon([(3, 3), (39, 3), (39, 9), (21, 9), (17, 6), (3, 6)]), 3.2, 60, 0.08)
    _hatch(draw, Polygon([(9, 27), (21, 26.6), (29, 27.6), (36, 27.6), (34, 29.2), (10, 29.2)]), 5.0, 70, 0.0)
    first = engrave(composition(), SEED)
    return replace(first, strokes=joined([*pieces(first.strokes), *pieces(draw.strokes())]))


def make(folder: Path) -> None:
    """Write the sample: an edition folder with two states, and the drawing beside it."""
    two = work_on(plate(), SEED, Work(added=9, removed=7, deepened=6, lightened=0, scratches=3))
    (folder / "scans").mkdir(parents=True, exist_ok=True)
    (folder / "drawing").mkdir(exist_ok=True)
    rows = ["pull,scan,kind,designation,state,note"]
    for number, scan, state, printing in PULLS:
        scan_pull(
            folder / "scans" / scan, two.before if state == "I" else two.after, printing, 900 + int(number)
        )
        rows.append(f"{number},{scan},state proof,,{state},")
    (folder / "pulls.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "edition.toml").write_text(
        "# Simulated, made by: python -m tests.heldout.still_life\n"
        'title = "Jug and pears, two states"\nstandard = "1"\n\n[capture]\ntone_curve = "sRGB"\n',
        encoding="utf-8",
    )
    told = ["kind,length_mm"]
    told += [f"{c.kind},{np.hypot(*np.diff(c.points_mm, axis=0).T).sum():.1f}" for c in two.changes]
    (folder / "drawing" / "changes_made.csv").write_text("\n".join(told) + "\n", encoding="utf-8")
    sheet, size = lay_drawing(SEED, composition(), DRAWING_PPI, mirrored=True)
    pencil = folder / "drawing" / "pencil.tif"
    draw_in_pencil(pencil, composition(), sheet, size, DRAWING_PPI, darkness=0.25, seed=SEED)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.heldout.still_life", description=__doc__)
    parser.add_argument(
        "folder", nargs="?", type=Path, default=FOLDER, help=f"where to write (default: {FOLDER})"
    )
    folder = parser.parse_args().folder
    make(folder)
    print(f"Wrote {folder}")


if __name__ == "__main__":
    main()
