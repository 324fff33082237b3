"""Pictures of a sheet in the plate frame: exact maps, averages that keep tone, nothing invented outside the scan."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from proofkit.laying.rectify import Box, plate_box, rectify, rectify_coarse, sheet_maps
from proofkit.laying.spline import WARP_STEP_MM, control_shape
from proofkit.laying.types import Laying, to_sheet_px
from proofkit.scan.levels import levels_of

PER_MM = 20.0


def shifted(x_px, y_px):
    controls = np.zeros((*control_shape(20, 20, WARP_STEP_MM), 2))
    affine = np.array([[PER_MM, 0.0, x_px], [0.0, PER_MM, y_px]])
    return Laying(affine, controls, WARP_STEP_MM, 1, 1, 0, 0, mirrored=False, misfit_um=0)


def test_maps_between_nodes_are_those_of_the_laying():
    laying = shifted(10.0, 5.0)
    laying.warp_px[:] = np.random.default_rng(1).normal(0, 1.5, laying.warp_px.shape)
    box = Box(0.7, 1.3, 133, 90, 0.05)
    x, y = sheet_maps(laying, box)
    columns, rows = np.meshgrid(np.arange(box.columns), np.arange(box.rows))
    points = np.column_stack((0.7 + columns.ravel() * 0.05, 1.3 + rows.ravel() * 0.05))
    exact = to_sheet_px(laying, points)
    assert np.abs(x.ravel() - exact[:, 0]).max() < 0.03
    assert np.abs(y.ravel() - exact[:, 1]).max() < 0.03


def test_a_ramp_comes_back_exactly_and_outside_is_empty():
    plane = np.tile(np.arange(0, 40_000, 100, dtype=np.uint16), (400, 1))
    box = plate_box(15.0, 15.0, 0.05)
    picture = rectify(plane, shifted(-20.0, 0.0), box)
    columns = np.arange(box.columns) * 0.05 * PER_MM - 20
    inside = columns >= 0
    assert picture[5, inside] * 65535 == pytest.approx(columns[inside] * 100, abs=5)
    assert np.isnan(picture[:, columns < -0.6]).all()


def test_fine_hatching_averages_to_its_tone():
    """Lines of 3 px period at cells of 8 px: no moiré, the mean is that of the lines."""
    plane = np.where(np.arange(400) % 3 == 0, 6000, 60_000).astype(np.uint16) * np.ones((400, 1), np.uint16)
    coarse = rectify_coarse(levels_of(plane), shifted(0.0, 0.0), plate_box(15.0, 15.0, 0.4)) * 65535
    inner = coarse[5:-5, 5:-5]
    assert np.mean(inner) == pytest.approx(42_000, rel=0.01)
    assert np.std(inner) < 0.03 * 42_000


def grain(shape, seed=4):
    rng = np.random.default_rng(seed)
    return cv2.GaussianBlur(rng.uniform(5_000, 60_000, shape).astype(np.float32), (0, 0), 2).astype(np.uint16)


@pytest.mark.parametrize(("pitch", "factor", "more_px2"), [(0.05, 1, 0.0), (0.23, 2, 0.0), (0.33, 2, 1.25)])
def test_averages_are_those_of_the_whole_picture_blurred_and_sampled(pitch, factor, more_px2):
    """Against OpenCV on the whole plane: block means, Gaussian of half a cell, linear sampling at exact places.

    Half a cell of 6.6 px is 3 px: means over 2 px and reading between them average over less than
    means over 3 px would, by (8 - 3) / 12 + (9 - 4) / 6 = 1.25 px², which the Gaussian makes up for.
    """
    plane = grain((420, 480))
    laying = shifted(31.3, 22.8)
    box = plate_box(14.0, 13.0, pitch)
    small = cv2.resize(plane, (480 // factor, 420 // factor), interpolation=cv2.INTER_AREA)
    sigma = np.sqrt((0.5 * pitch * PER_MM) ** 2 + more_px2) / factor
    soft = cv2.GaussianBlur(small, (0, 0), sigma).astype(np.float64)
    x = (np.arange(box.columns) * pitch * PER_MM + 31.3 + 0.5) / factor - 0.5
    y = (np.arange(box.rows) * pitch * PER_MM + 22.8 + 0.5) / factor - 0.5
    wanted = map_coordinates(soft, np.meshgrid(y, x, indexing="ij"), order=1, mode="nearest") / 65535
    assert rectify_coarse(levels_of(plane), laying, box) == pytest.approx(wanted, abs=2.0 / 65535)
