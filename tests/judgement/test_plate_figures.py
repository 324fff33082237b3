import numpy as np
import pytest

from proofkit.judgement.plate_figures import NAMES, plate_figures

H, W = 240, 320
X = (np.arange(W) + 0.5) / W - 0.5


def plate(film=0.03, cover_factor=1.0):
    """A plate of bare ground with blocks of line work in three tones, laid out without symmetry; D of the film."""
    cover = np.zeros((H, W))
    for row in range(4):
        for column in range(5):
            tone = (0.25, 0.4, 0.55)[(row * 2 + column * column) % 3]
            cover[row * 60 + 6 : row * 60 + 48, column * 64 + 6 : column * 64 + 45] = tone
    return ((1 - cover * cover_factor) * 10.0 ** -(np.broadcast_to(film, (H, W)))).astype(np.float32)


def figures(sheet):
    found = plate_figures({"1": plate(), "2": sheet.astype(np.float32)}, "1", ("1", "2")).by_name
    return {name: found[name][1] for name in NAMES}


def test_a_ramp_of_film_is_read_from_edge_to_edge():
    found = figures(plate(film=0.05 + 0.08 * X))
    assert found["film_ramp_x_density"] == pytest.approx(0.08, abs=0.002)
    assert found["film_ramp_y_density"] == pytest.approx(0.0, abs=0.001)
    assert found["load_ramp_x_fraction"] == pytest.approx(0.0, abs=0.01)


def test_a_ramp_of_line_work_is_read_apart_from_film():
    found = figures(plate(film=0.06, cover_factor=1 + 0.2 * X))
    assert found["load_ramp_x_fraction"] == pytest.approx(0.2, abs=0.02)
    assert found["film_ramp_x_density"] == pytest.approx(0.0, abs=0.001)


def test_more_film_everywhere_is_neither_ramp_nor_patch():
    found = figures(plate(film=0.10))
    for name in NAMES[:7]:
        assert found[name] == pytest.approx(0.0, abs=0.005), name


def test_without_pictures_there_are_no_figures():
    found = plate_figures({}, "1", ("1", "2")).by_name
    assert all(np.isnan(values).all() for values in found.values())


def test_a_sheet_half_outside_the_scan_does_not_disturb():
    sheet = plate(film=0.05 + 0.08 * X)
    sheet[:, 290:] = np.nan
    assert figures(sheet)["film_ramp_x_density"] == pytest.approx(0.08, abs=0.003)
