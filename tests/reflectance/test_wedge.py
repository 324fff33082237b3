"""Step wedges: where their steps lie, which are used, and what is said when they cannot be."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.errors import CalibrationError
from proofkit.folder.edition import Capture, Wedge
from proofkit.quality import Quality
from proofkit.reflectance import tone_curve
from proofkit.reflectance.wedge import step_points, wedge_curve
from proofkit.scan import open_scan
from proofkit.units import density
from tests.scan.scan_files import write_tiff

DENSITIES = (0.05, 0.35, 0.65, 0.95, 1.25, 1.55)
CORNERS = ((20.0, 30.0), (20.0, 90.0), (320.0, 90.0), (320.0, 30.0))


def codes_of(densities, gamma=2.2, full=255):
    return np.rint(full * 10 ** (-np.asarray(densities) / gamma))


def wedge_scan(tmp_path, codes, *, noise=0.0, dust=False):
    """Six steps of 50 x 60 px from (20, 30) on; seen through gamma 2.2 unless told otherwise."""
    rng = np.random.default_rng(4)
    picture = np.full((120, 340), 8.0)
    picture[30:90, 20:320] = np.repeat(codes, 50)
    picture += noise * rng.standard_normal(picture.shape)
    if dust:
        picture[55:62, 80:90] = 0
        picture[60, 20:320] = 255
    return open_scan(write_tiff(tmp_path / "a.tif", np.clip(np.rint(picture), 0, 255).astype(np.uint8)))


@pytest.mark.parametrize(
    "corners",
    [
        CORNERS,
        (CORNERS[1], CORNERS[0], CORNERS[3], CORNERS[2]),
        (CORNERS[0], CORNERS[1], CORNERS[3], CORNERS[2]),  # last two the other way round
        ((45.0, 60.0), (295.0, 60.0)),  # centres of the first and the last step
    ],
)
def test_ways_to_say_where_it_lies(tmp_path, corners):
    curve = tone_curve(wedge_scan(tmp_path, codes_of(DENSITIES)), Capture(wedge=Wedge(DENSITIES, corners)))
    assert density(curve.tables[0, codes_of(DENSITIES).astype(int)]) == pytest.approx(DENSITIES, abs=1e-6)


def test_order_of_densities_is_free(tmp_path):
    turned = Wedge(DENSITIES[::-1], (CORNERS[2], CORNERS[3], CORNERS[0], CORNERS[1]))
    curve = tone_curve(wedge_scan(tmp_path, codes_of(DENSITIES)), Capture(wedge=turned))
    assert density(curve.tables[0, codes_of(DENSITIES).astype(int)]) == pytest.approx(DENSITIES, abs=1e-6)


def test_noise_dust_and_scratches_hardly_count(tmp_path):
    file = wedge_scan(tmp_path, codes_of(DENSITIES), noise=2.0, dust=True)
    curve = tone_curve(file, Capture(wedge=Wedge(DENSITIES, CORNERS)))
    # A tenth of a code (the standard error of the mean of 600 pixels with noise 2) is 0.004 D at code 50.
    assert density(curve.tables[0, codes_of(DENSITIES).astype(int)]) == pytest.approx(DENSITIES, abs=0.006)
    assert curve.quality == Quality.NONE


def test_rotated_strip_stays_inside_its_steps():
    angle = np.radians(30)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    corners = np.array(CORNERS) @ turn.T
    points = step_points(Wedge(DENSITIES, tuple(map(tuple, corners))))
    for step, places in enumerate(points):
        back = places @ turn
        assert back[:, 0].min() == pytest.approx(20 + 50 * (step + 0.25))
        assert back[:, 0].max() == pytest.approx(20 + 50 * (step + 0.75))
        assert (back[:, 1].min(), back[:, 1].max()) == pytest.approx((45, 75))


def test_saturated_steps_are_left_out_and_said(tmp_path):
    codes = codes_of(DENSITIES)
    codes[0], codes[-1] = 255, 0
    curve = tone_curve(wedge_scan(tmp_path, codes), Capture(wedge=Wedge(DENSITIES, CORNERS)))
    assert "4 of 6 steps" in curve.name
    assert "left out: 0.05, 1.55 D" in curve.name
    assert density(curve.tables[0, codes[1:-1].astype(int)]) == pytest.approx(DENSITIES[1:-1], abs=1e-6)


def test_dark_steps_that_read_alike_are_left_out(tmp_path):
    codes = codes_of(DENSITIES)
    codes[-1] = codes[-2]
    assert (
        "left out: 1.55 D"
        in tone_curve(wedge_scan(tmp_path, codes), Capture(wedge=Wedge(DENSITIES, CORNERS))).name
    )


def test_densities_counted_from_the_wedge_s_white(tmp_path):
    """Paper may be lighter than such a wedge: codes above its first step must not all become white."""
    relative = tuple(np.array(DENSITIES) - 0.05)
    curve = tone_curve(
        wedge_scan(tmp_path, 0.8 * codes_of(relative)), Capture(wedge=Wedge(relative, CORNERS))
    )
    table = curve.tables[0]
    assert table[-1] == 1
    assert (np.diff(table[190:]) > 0).all()
    assert density(table[204] / table[10:204:40]).max() < 0  # lighter than the darker ones


def test_residual_tells_a_wrong_density(tmp_path):
    good = tone_curve(wedge_scan(tmp_path, codes_of(DENSITIES)), Capture(wedge=Wedge(DENSITIES, CORNERS)))
    wrong = (*DENSITIES[:3], 1.05, *DENSITIES[4:])
    bad = tone_curve(wedge_scan(tmp_path, codes_of(DENSITIES)), Capture(wedge=Wedge(wrong, CORNERS)))
    assert good.residual_density < 0.01
    assert bad.residual_density > 0.03


@pytest.mark.parametrize(
    ("densities", "corners", "what"),
    [
        (DENSITIES, ((20.0, 30.0), (20.0, 90.0), (400.0, 90.0), (400.0, 30.0)), "reaches from x"),
        (DENSITIES, CORNERS[:3], "3 corners"),
        (DENSITIES[:2], CORNERS, "at least 3"),
        ((0.05, 0.35, 0.35), CORNERS, "twice"),
        ((0.05, float("nan"), 0.35), CORNERS, "nan"),
        (DENSITIES[::-1], CORNERS, "must fall as density rises"),
    ],
)
def test_wedges_that_cannot_be_used(tmp_path, densities, corners, what):
    file = wedge_scan(tmp_path, codes_of(DENSITIES))
    with pytest.raises(CalibrationError) as caught:
        wedge_curve(file, Wedge(densities, corners))
    assert what in str(caught.value)
    assert "edition.toml" in str(caught.value)
    # The sheet is read all the same, by the file's own curve, and says why.
    curve = tone_curve(file, Capture(wedge=Wedge(densities, corners)))
    assert curve.quality == Quality.NO_WEDGE | Quality.CURVE_ASSUMED
    assert curve.name.startswith("sRGB (assumed), as the wedge failed: ")
    assert what in curve.name


def test_nothing_to_tell_apart(tmp_path):
    with pytest.raises(CalibrationError, match="can be told apart"):
        wedge_curve(wedge_scan(tmp_path, np.full(6, 100.0)), Wedge(DENSITIES, CORNERS))


@given(st.lists(st.integers(20, 250), min_size=6, max_size=6, unique=True), st.integers(0, 1))
def test_curve_always_rises(tmp_path_factory, codes, offset):
    file = wedge_scan(tmp_path_factory.mktemp("wedge"), np.sort(np.array(codes, float))[::-1] + offset)
    table = tone_curve(file, Capture(wedge=Wedge(DENSITIES, CORNERS))).tables[0]
    assert (np.diff(table) >= 0).all()
    assert table[0] == 0
    assert table[-1] <= 1
