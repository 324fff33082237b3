"""The line finder on real pictures that come with scikit-image: vessels of a retina, and a printed page.

`skimage.data.retina()` (CC0) and `skimage.data.page()` lie in the package, so no network is needed. Nobody knows their
true lengths; the finder has to be steady, finite and to draw its lines where the picture is dark.
"""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from skimage import data

from proofkit.lines.centrelines import find_lines

PITCH = 0.03


def ink_of(picture):
    """Ink of a picture against its own slowly changing ground."""
    light = picture.astype(np.float64)
    ground = gaussian_filter(light, 25) + 1.0
    return np.clip(30 + 200 * (1 - light / ground), 0, 255).astype(np.uint8)


@pytest.fixture(scope="module")
def retina():
    """Green channel, inside the eye: vessels are dark there."""
    return ink_of(data.retina()[450:950, 450:950, 1])


@pytest.fixture(scope="module")
def page():
    return ink_of(data.page())


@pytest.mark.parametrize("name", ["retina", "page"])
def test_lines_lie_in_the_dark(name, request):
    ink = request.getfixturevalue(name)
    lines = find_lines(ink, PITCH, 0.03)
    assert lines.size > 50
    for values in (lines.points_mm, lines.normals, lines.length_mm, lines.contrast):
        assert np.isfinite(values).all()
    assert np.linalg.norm(lines.normals, axis=1) == pytest.approx(1, abs=1e-6)
    column, row = np.rint(lines.points_mm.T / PITCH).astype(int)
    assert 0 <= column.min() <= column.max() < ink.shape[1]
    assert 0 <= row.min() <= row.max() < ink.shape[0]
    assert np.mean(ink[row, column]) > np.mean(ink) + 10
    assert lines.length_mm.sum() < 0.3 * ink.size * PITCH


def test_a_turned_picture_has_the_same_length(retina):
    upright = find_lines(retina, PITCH, 0.03).length_mm.sum()
    turned = find_lines(np.rot90(retina).copy(), PITCH, 0.03).length_mm.sum()
    mirrored = find_lines(retina[:, ::-1].copy(), PITCH, 0.03).length_mm.sum()
    assert turned == pytest.approx(upright, rel=0.03)
    assert mirrored == pytest.approx(upright, rel=0.03)


def test_the_same_picture_gives_the_same_lines(page):
    one, other = find_lines(page, PITCH, 0.03), find_lines(page.copy(), PITCH, 0.03)
    assert (one.points_mm == other.points_mm).all()
