import numpy as np
import pytest

from proofkit.laying import rectify as module
from proofkit.laying.spline import WARP_STEP_MM, control_shape
from proofkit.laying.types import Laying
from proofkit.measures.fine_picture import FINE_PITCH_MM, NO_SHEET, fine_picture, ink_of
from proofkit.scan.types import Scan
from tests.lines.papers import even_paper

SIZE_MM = (20.0, 14.0)
PAPER = 0.8


def laying_of(per_mm, x_px, y_px, turn_deg=0.0):
    a = np.radians(turn_deg)
    linear = per_mm * np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    controls = np.zeros((*control_shape(*SIZE_MM, WARP_STEP_MM), 2))
    return Laying(
        np.column_stack((linear, (x_px, y_px))),
        controls,
        WARP_STEP_MM,
        1,
        1,
        0,
        0,
        mirrored=False,
        misfit_um=0,
    )


def scan_of(plane):
    return Scan(None, plane, np.zeros((1, 1, 3), np.float32), 1, "linear")


@pytest.mark.parametrize("per_mm", [12.0, 23.6, 47.2])
@pytest.mark.parametrize("turn_deg", [0.0, 1.7, 180.0])
def test_a_disc_keeps_its_place_and_its_area(per_mm, turn_deg):
    # The integral of ink over the plate is the disc's area, pi d²/4, at any resolution and turn.
    middle_mm, diameter_mm = np.array([8.3, 6.1]), 0.9
    shape = (round(24 * per_mm), round(30 * per_mm))
    shift = (25 * per_mm, 19 * per_mm) if turn_deg == 180 else (5 * per_mm, 5 * per_mm)
    laying = laying_of(per_mm, *shift, turn_deg)
    x, y = laying.affine[:, :2] @ middle_mm + laying.affine[:, 2]
    i, j = np.indices(shape)
    share = np.clip(diameter_mm / 2 * per_mm - np.hypot(i - y, j - x) + 0.5, 0, 1)
    plane = np.rint(65535 * PAPER * (1 - 0.9 * share)).astype(np.uint16)
    ink = ink_of(fine_picture(scan_of(plane), even_paper(PAPER), laying, SIZE_MM))
    assert ink.sum() * FINE_PITCH_MM**2 / 0.9 == pytest.approx(np.pi * diameter_mm**2 / 4, rel=0.02)
    rows, columns = np.indices(ink.shape)
    centre = np.array([(ink * columns).sum(), (ink * rows).sum()]) / ink.sum() * FINE_PITCH_MM
    assert centre == pytest.approx(middle_mm, abs=0.01)


def test_bands_join_without_a_seam(monkeypatch):
    plane = np.random.default_rng(1).integers(10_000, 50_000, (500, 600)).astype(np.uint16)
    laying = laying_of(23.6, 40.0, 30.0, 0.8)
    whole = fine_picture(scan_of(plane), even_paper(PAPER), laying, SIZE_MM)
    monkeypatch.setattr(module, "TILE_NODES", (1, 2))
    in_bands = fine_picture(scan_of(plane), even_paper(PAPER), laying, SIZE_MM)
    assert np.abs(in_bands.astype(int) - whole.astype(int)).max() <= 1


def test_what_the_scan_does_not_show_is_marked():
    plane = np.full((300, 240), 50_000, dtype=np.uint16)
    codes = fine_picture(scan_of(plane), even_paper(PAPER), laying_of(23.6, 20.0, 20.0), SIZE_MM)
    last = int((239.5 - 20) / 23.6 / FINE_PITCH_MM)
    assert (codes[:80, last + 1 :] == NO_SHEET).all()
    assert (codes[:80, : last - 1] != NO_SHEET).all()
