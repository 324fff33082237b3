"""Pictures of a sheet in the plate frame: exact maps, averages that keep tone, nothing invented outside the scan."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import map_coordinates

from proofkit.laying.rectify import Box, ink_cells, plate_box, rectify, rectify_coarse, sheet_maps
from proofkit.laying.reference import encode_ink
from proofkit.laying.spline import WARP_STEP_MM, control_shape
from proofkit.laying.types import Laying, to_sheet_px

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
    coarse = rectify_coarse(plane, shifted(0.0, 0.0), plate_box(15.0, 15.0, 0.4)) * 65535
    inner = coarse[5:-5, 5:-5]
    assert np.mean(inner) == pytest.approx(42_000, rel=0.01)
    assert np.std(inner) < 0.03 * 42_000


def grain(shape, seed=4):
    rng = np.random.default_rng(seed)
    return cv2.GaussianBlur(rng.uniform(5_000, 60_000, shape).astype(np.float32), (0, 0), 2).astype(np.uint16)


@pytest.mark.parametrize("pitch", [0.05, 0.13, 0.33])
def test_averages_are_those_of_the_whole_picture_blurred_and_sampled(pitch):
    """Against OpenCV on the whole plane: block means, Gaussian of half a cell, linear sampling at exact places."""
    plane = grain((420, 480))
    laying = shifted(31.3, 22.8)
    box = plate_box(14.0, 13.0, pitch)
    factor = max(int(pitch * PER_MM / 2), 1)
    small = cv2.resize(plane, (480 // factor, 420 // factor), interpolation=cv2.INTER_AREA)
    soft = cv2.GaussianBlur(small, (0, 0), 0.5 * pitch * PER_MM / factor).astype(np.float64)
    x = (np.arange(box.columns) * pitch * PER_MM + 31.3 + 0.5) / factor - 0.5
    y = (np.arange(box.rows) * pitch * PER_MM + 22.8 + 0.5) / factor - 0.5
    wanted = map_coordinates(soft, np.meshgrid(y, x, indexing="ij"), order=1, mode="nearest") / 65535
    assert rectify_coarse(plane, laying, box) == pytest.approx(wanted, abs=1.5 / 65535)


def test_only_wanted_cells_are_made_and_they_are_the_same():
    plane = grain((420, 480))
    box = plate_box(30.0, 13.0, 0.05)
    every, beyond = ink_cells(plane, shifted(31.3, 22.8), box, 0.8)
    rows, columns = np.zeros(box.rows, bool), np.zeros(box.columns, bool)
    rows[40:77] = columns[310:] = True
    some, some_beyond = ink_cells(plane, shifted(31.3, 22.8), box, 0.8, (rows, columns))
    here = np.ix_(rows, columns)
    assert (some[here] == every[here]).all()
    assert (some_beyond[here] == beyond[here]).all()
    assert beyond.any()
    assert not some[~rows].any()
    assert not some[:, ~columns].any()


def test_codes_of_ink_are_those_of_the_picture():
    plane = grain((420, 480))
    box = plate_box(30.0, 13.0, 0.1)
    picture = rectify_coarse(plane, shifted(31.3, 22.8), box)
    ink, outside = ink_cells(plane, shifted(31.3, 22.8), box, 0.8)
    assert np.abs(ink.astype(int) - encode_ink(picture, 0.8)).max() <= 1
    assert np.mean(ink == encode_ink(picture, 0.8)) > 0.999
    assert (outside == np.isnan(picture)).all()
