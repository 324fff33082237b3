"""A plate pulled on stretched, turned and warped paper is laid on its standard; the truth is how it was drawn."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.errors import LayingError
from proofkit.frame.types import PlateFrame
from proofkit.laying.coarse import refine
from proofkit.laying.fine import fit_lines
from proofkit.laying.start import Turn, from_frame
from proofkit.laying.types import to_sheet_px
from proofkit.scan.levels import levels_of
from tests.laying.plates import BLUR, SIZE, SPACING, corners, hand_hatching, lie, pull
from tests.lines.papers import even_paper

WARPED = {"stretch": (1.004, 0.993), "turn_deg": 0.6, "warp_mm": 0.12}


def frame_of(how, off_px=0.0):
    """A plate mark found `off_px` beside its place."""
    return PlateFrame(corners(how) + off_px, ("by hand",) * 4, (0.5,) * 4, 20.0)


def as_lies(how, quarters=0, *, mirrored=False):
    """Corners as a finder gives them, top left first as the scan is seen."""
    points = corners(how)
    if mirrored:
        points = points[[1, 0, 3, 2]]
    return PlateFrame(np.roll(points, quarters, axis=0), ("by hand",) * 4, (0.5,) * 4, 20.0)


def grid():
    x, y = np.meshgrid(np.linspace(1.5, SIZE[0] - 1.5, 15), np.linspace(1.5, SIZE[1] - 1.5, 15))
    return np.column_stack((x.ravel(), y.ravel()))


def error_um(laying, how):
    """Rms distance of plate points from where they were drawn."""
    off = (to_sheet_px(laying, grid()) - how.place(grid())) / np.sqrt(abs(np.linalg.det(how.linear)))
    return 1000 * np.sqrt(np.mean((off**2).sum(axis=1)))


def lay(plate, plane, frame):
    paper = even_paper()
    start, turn, _ = from_frame(frame, levels_of(plane), paper.luminance, plate.pictures)
    laying, alike = refine(start, levels_of(plane), paper.luminance, plate.pictures)
    return fit_lines(laying, plane, paper, plate.lines, BLUR), turn, alike, start


def test_a_warped_sheet_is_laid(plate):
    how = lie(**WARPED)
    fit, turn, alike, start = lay(plate, pull(plate.strokes, how, seed=2), frame_of(how, off_px=6.0))
    assert turn == Turn(0, mirrored=False)
    assert error_um(start, how) > 200
    assert error_um(fit.laying, how) < 30
    assert fit.misfit_um < 10
    assert alike > 0.8


@pytest.mark.parametrize(("turn_deg", "mirror", "quarters"), [(180, False, 2), (0, True, 0), (180, True, 2)])
def test_turned_and_mirrored_sheets(plate, turn_deg, mirror, quarters):
    how = lie(turn_deg=turn_deg + 0.4, mirror=mirror, stretch=(1.003, 0.998))
    plane = pull(plate.strokes, how, seed=3)
    fit, turn, _, _ = lay(plate, plane, as_lies(how, quarters, mirrored=mirror))
    assert turn.mirrored == mirror
    assert turn.quarters == quarters
    assert error_um(fit.laying, how) < 30


@pytest.mark.parametrize("shift_mm", [(SPACING, 0.0), (0.0, -SPACING), (0.21, 0.21)])
def test_a_start_one_line_off_is_put_right(plate, shift_mm):
    """No two gaps of a hand's hatching are alike, so patches tell a line from its neighbour."""
    how = lie(warp_mm=0.1)
    plane = pull(plate.strokes, how, seed=4)
    paper = even_paper()
    wrong = plate.laying.affine.copy()
    wrong[:, 2] += wrong[:, :2] @ np.array(shift_mm)
    laying, _ = refine(replace(plate.laying, affine=wrong), levels_of(plane), paper.luminance, plate.pictures)
    assert error_um(laying, how) < 60
    assert error_um(fit_lines(laying, plane, paper, plate.lines, BLUR).laying, how) < 30


def test_another_plate_is_not_alike(plate):
    how = lie()
    other = pull(hand_hatching(seed=99), how)
    laying, _, _ = from_frame(frame_of(how), levels_of(other), even_paper().luminance, plate.pictures)
    _, alike = refine(laying, levels_of(other), even_paper().luminance, plate.pictures)
    assert alike < 0.3


def test_a_plate_mark_of_another_shape_is_refused(plate):
    square = np.array([(100.0, 100.0), (600.0, 100.0), (600.0, 600.0), (100.0, 600.0)])
    frame = PlateFrame(square, ("by hand",) * 4, (0.5,) * 4, 20.0)
    with pytest.raises(LayingError, match=r"a ratio of 1\.000, but the standard's plate is 24\.0 x 30\.0 mm"):
        from_frame(frame, levels_of(plate.plane), even_paper().luminance, plate.pictures)


def test_the_standard_lies_on_itself(plate):
    fit = fit_lines(plate.laying, plate.plane, even_paper(), plate.lines, BLUR)
    assert error_um(fit.laying, lie()) < 5
    assert fit.misfit_um < 5


def test_the_standards_lines_are_those_that_were_drawn(plate):
    drawn = np.linalg.norm(plate.strokes[:, 2:4] - plate.strokes[:, :2], axis=1)
    assert plate.lines.lines.length_mm.sum() == pytest.approx(drawn.sum(), rel=0.03)
    # Lines of 4 blur sigmas read 4 % too wide at half of their own depth (error function), finer ones a little more.
    assert np.median(plate.lines.spans.width_mm) == pytest.approx(np.median(plate.strokes[:, 4]), rel=0.1)
    assert np.median(plate.lines.load_um) == pytest.approx(930 * np.median(plate.strokes[:, 4]), rel=0.03)
