"""First guess of a laying: from the plate mark, or from the whole picture when there is none."""

from dataclasses import dataclass, replace

import cv2
import numpy as np

from proofkit.arrays import Floats, Ink, Points
from proofkit.errors import LayingError
from proofkit.frame.types import PlateFrame, to_px
from proofkit.laying.ink import ink_cells
from proofkit.laying.rectify import plate_box
from proofkit.laying.reference import PITCHES_MM, MatchPictures
from proofkit.laying.spline import WARP_STEP_MM, control_shape, fit_warp, split_affine
from proofkit.laying.types import Laying
from proofkit.scan.levels import Levels
from proofkit.scan.types import ScanFile
from proofkit.threads import each_in_order
from proofkit.units import px_per_mm

SLACK_CELLS = 6
"""How far the whole picture may lie off when turns and mirrors are tried. [cells of the coarsest level]"""

TURN_CELLS = 3
"""Cells of the coarsest level along a side of those in which turns are told apart where there is a plate mark, but at
least `FEWEST_CELLS` along a picture: 1.2 mm. On drawn sheets the right turn then leads as far as with finer ones (by
0.27 on A3 hatching, by 0.55 and more on small plates), and pictures lie alike more surely. [-]"""

FEWEST_CELLS = 30

TURNS_DEG = (0.0, -0.75, 0.75, -1.5, 1.5, -2.25, 2.25)
"""Turns tried when there is no plate mark: a sheet is laid by hand within about 2 deg. [deg]"""

LEAST_LIKENESS = 0.12
"""Below this correlation of the whole coarse picture no turn fits better than chance. [-]"""


@dataclass(frozen=True, slots=True)
class Turn:
    """One of the ways a sheet can lie: turned by quarter turns, and mirrored or not."""

    quarters: int
    mirrored: bool


def laying_of_corners(corners_px: Points, width_mm: float, height_mm: float) -> Laying:
    """Return the map that takes the plate's corners to `corners_px`, bilinear between them."""
    rows, columns = control_shape(width_mm, height_mm, WARP_STEP_MM)
    plate = np.array([(0.0, 0.0), (width_mm, 0.0), (width_mm, height_mm), (0.0, height_mm)])
    design = np.column_stack((plate, np.ones(4)))
    affine = np.linalg.lstsq(design, corners_px, rcond=None)[0].T
    start = Laying(
        affine, np.zeros((rows, columns, 2)), WARP_STEP_MM, 1.0, 1.0, 0.0, 0.0, mirrored=False, misfit_um=0.0
    )
    frame = PlateFrame(corners_px, ("by hand",) * 4, (0.0,) * 4, 0.0)
    x, y = np.meshgrid(np.linspace(0, width_mm, 15), np.linspace(0, height_mm, 15))
    grid = np.column_stack((x.ravel(), y.ravel()))
    offsets = to_px(frame, grid, width_mm, height_mm) - (grid @ affine[:, :2].T + affine[:, 2])
    exact = np.tile(np.eye(2) * 1e8, (len(grid), 1, 1))
    per_mm = float(np.sqrt(abs(np.linalg.det(affine[:, :2]))))
    bent, _ = fit_warp(start, grid, offsets, exact, px_per_mm=per_mm, steps=1)
    return split_affine(bent, width_mm, height_mm)


def turned_corners(corners_px: Points, turn: Turn) -> Points:
    """Return the corners in the plate's own order for a sheet that lies turned or mirrored."""
    corners = np.roll(corners_px, -turn.quarters, axis=0)
    return corners[[1, 0, 3, 2]] if turn.mirrored else corners


def _coarser(picture: Ink, factor: int) -> Ink:
    """Return a picture in cells `factor` times as large, without what is left of the last row and column."""
    rows, columns = (side // factor for side in picture.shape)
    whole = picture[: rows * factor, : columns * factor]
    return np.asarray(cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _likeness(sheet: Ink, standard: Ink, slack: int) -> float:
    """Return the best correlation of two whole pictures that lie up to so many cells off each other."""
    s = min(slack, min(standard.shape) // 4)
    score = cv2.matchTemplate(sheet, standard[s:-s, s:-s], cv2.TM_CCOEFF_NORMED)
    return float(score.max())


def from_frame(
    frame: PlateFrame, levels: Levels, paper: float, reference: MatchPictures
) -> tuple[Laying, Turn, float]:
    """Return the laying by the plate mark in the turn that looks most like the standard.

    Returns
    -------
    Laying
    Turn
    float
        Correlation of the whole coarse picture. [-]
    """
    width, height = reference.width_mm, reference.height_mm
    sides = np.linalg.norm(np.roll(frame.corners_px, -1, axis=0) - frame.corners_px, axis=1)
    seen = (sides[0] + sides[2]) / (sides[1] + sides[3])
    tries = []
    for quarters in range(4):
        expected = width / height if quarters % 2 == 0 else height / width
        if abs(np.log(seen / expected)) > 0.08:
            continue
        tries += [Turn(quarters, mirrored=False), Turn(quarters, mirrored=True)]
    if not tries:
        msg = (
            f"the plate mark found is {sides[0]:.0f} x {sides[1]:.0f} px, a ratio of {seen:.3f}, but the standard's "
            f"plate is {width:.1f} x {height:.1f} mm, a ratio of {width / height:.3f}; give the corners in pulls.csv "
            "if it is this plate"
        )
        raise LayingError(msg)
    box = plate_box(width, height, PITCHES_MM[0])
    factor = min(TURN_CELLS, max(min(reference.levels[0].shape) // FEWEST_CELLS, 1))
    standard, upright = _coarser(reference.levels[0], factor), dict[int, Ink]()
    for quarters in {turn.quarters % 2 for turn in tries}:
        corners = turned_corners(frame.corners_px, Turn(quarters, mirrored=False))
        picture, _ = ink_cells(levels, laying_of_corners(corners, width, height), box, paper)
        upright[quarters] = _coarser(picture, factor)

    def likeness(turn: Turn) -> float:
        return _likeness(_as_seen(upright[turn.quarters % 2], turn), standard, SLACK_CELLS // factor)

    alike = each_in_order(likeness, tries)
    best = int(np.argmax(alike))
    corners = turned_corners(frame.corners_px, tries[best])
    return laying_of_corners(corners, width, height), tries[best], alike[best]


def _as_seen(picture: Ink, turn: Turn) -> Ink:
    """Return the picture of a sheet in a turn from that of the same turn but for half a one and the mirror.

    Rows and columns begin up to a cell elsewhere than those of a picture made anew.
    """
    if turn.quarters >= 2:
        picture = picture[::-1, ::-1]
    return np.ascontiguousarray(picture[:, ::-1] if turn.mirrored else picture)


def from_picture(
    file: ScanFile, levels: Levels, paper: float, reference: MatchPictures
) -> tuple[Laying, Turn, float]:
    """Return the laying found from the whole picture alone, for a sheet without a plate mark.

    Raises
    ------
    LayingError
        If no turn looks like the standard.
    """
    width, height = reference.width_mm, reference.height_mm
    pitch = PITCHES_MM[0]
    sx, sy = px_per_mm(file.ppi_x), px_per_mm(file.ppi_y)
    sheet_mm = np.array([file.width / sx, file.height / sy])
    best: tuple[float, Laying, Turn] | None = None
    patch = reference.levels[0]
    for quarters in (0, 2):
        for mirrored in (False, True):
            for turn_deg in TURNS_DEG:
                about = _guess(quarters, turn_deg, sx, sy, sheet_mm, (width, height), mirrored=mirrored)
                wide = plate_box(
                    width, height, pitch, border_mm=float(max(sheet_mm.max() - min(width, height), 0)) / 2 + 5
                )
                sheet, _ = ink_cells(levels, about, wide, paper)
                if sheet.shape[0] < patch.shape[0] or sheet.shape[1] < patch.shape[1]:
                    continue
                score = cv2.matchTemplate(sheet, patch, cv2.TM_CCOEFF_NORMED)
                _, alike, _, (x, y) = cv2.minMaxLoc(score)
                if best is None or alike > best[0]:
                    move = about.affine[:, :2] @ np.array([wide.x0_mm + x * pitch, wide.y0_mm + y * pitch])
                    affine = np.column_stack((about.affine[:, :2], about.affine[:, 2] + move))
                    best = (float(alike), replace(about, affine=affine), Turn(quarters, mirrored))
    if best is None or best[0] < LEAST_LIKENESS:
        msg = (
            f"no plate mark was found on {file.path.name} and it does not look like the standard: it is blank or shows "
            "another plate; check the scan, or give the corners of the plate mark in pulls.csv"
        )
        raise LayingError(msg)
    return best[1], best[2], best[0]


def _guess(
    quarters: int,
    turn_deg: float,
    sx: float,
    sy: float,
    sheet_mm: Floats,
    size: tuple[float, float],
    *,
    mirrored: bool,
) -> Laying:
    """Return a laying in the middle of the scan, turned and mirrored as said."""
    width, height = size
    angle = np.deg2rad(90.0 * quarters + turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    flip = np.diag([-1.0 if mirrored else 1.0, 1.0])
    linear = np.diag([sx, sy]) @ turn @ flip
    middle = np.array([sx, sy]) * sheet_mm / 2
    affine = np.column_stack((linear, middle - linear @ np.array([width / 2, height / 2])))
    rows, columns = control_shape(width, height, WARP_STEP_MM)
    return Laying(affine, np.zeros((rows, columns, 2)), WARP_STEP_MM, 1.0, 1.0, 0.0, 0.0, mirrored, 0.0)
