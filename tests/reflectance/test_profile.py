"""Embedded profiles are read as a reference library (littleCMS, in imagecodecs) reads them."""

import imagecodecs
import numpy as np
import pytest

from proofkit.errors import CalibrationError
from proofkit.reflectance.profile import profile_curve, rgb_to_xyz
from proofkit.scan import Scan
from tests.reflectance.profiles import codes_of, curv, description, para, profile, rgb_profile, scan_file

TABLE = tuple((np.linspace(0, 1, 64) ** 1.9 * 65535).round().astype(int).tolist())

CURVES = {
    "identity": [curv()] * 3,
    "gamma 1.8": [curv(round(1.8 * 256))] * 3,
    "table": [curv(*TABLE)] * 3,
    "different": [curv(round(1.8 * 256)), curv(*TABLE), para(0, 2.4)],
    "parametric 0": [para(0, 2.2)] * 3,
    "parametric 1": [para(1, 2.0, 0.9, 0.1)] * 3,
    "parametric 2": [para(2, 2.0, 0.8, 0.1, 0.05)] * 3,
    "parametric 3": [para(3, 2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)] * 3,
    "parametric 4": [para(4, 2.4, 0.9, 0.05, 1 / 12.92, 0.04, 0.01, 0.002)] * 3,
}


def littlecms_xyz(icc: bytes, codes):
    """XYZ (D50) of codes by the reference library."""
    return imagecodecs.cms_transform(
        codes[None],
        icc,
        imagecodecs.cms_profile("xyz"),
        colorspace="rgb",
        outcolorspace="xyz",
        outdtype="f8",
        intent=1,
    )[0]


def linear_rgb(curve, codes):
    return np.stack([curve.tables[c, codes[:, c]] for c in range(3)], axis=-1).astype(np.float64)


@pytest.mark.parametrize("version", [2, 4])
@pytest.mark.parametrize("name", CURVES)
def test_luminance_of_matrix_profiles(name, version):
    icc = rgb_profile(CURVES[name], version=version)
    curve = profile_curve(scan_file(icc))
    codes = codes_of()
    ours = linear_rgb(curve, codes) @ curve.weights
    assert ours == pytest.approx(littlecms_xyz(icc, codes)[:, 1], abs=1.2e-4)  # its curves are 16-bit tables


def test_the_library_s_own_srgb_profile():
    icc = imagecodecs.cms_profile("srgb")
    curve = profile_curve(scan_file(icc))
    codes = codes_of()
    assert linear_rgb(curve, codes) @ curve.weights == pytest.approx(
        littlecms_xyz(icc, codes)[:, 1], abs=1.2e-4
    )
    assert curve.name.startswith('embedded profile "')


def test_grey_profile():
    icc = profile(b"GRAY", {b"kTRC": curv(round(1.8 * 256))})
    curve = profile_curve(scan_file(icc, channels=1, bits=16))
    assert curve.weights == (1.0,)
    assert curve.tables.shape == (1, 65536)
    assert curve.tables[0, 32768] == pytest.approx((32768 / 65535) ** (461 / 256), abs=1e-6)


def test_grey_profile_that_leads_to_lightness():
    icc = profile(b"GRAY", {b"kTRC": curv()}, connection=b"Lab ")
    table = profile_curve(scan_file(icc, channels=1)).tables[0]
    # CIE 15: L* 50 is Y = 0.184187; check-value of every colour handbook.
    assert np.interp(50.0, np.arange(256) / 2.55, table) == pytest.approx(0.184187, abs=1e-4)
    lab = imagecodecs.cms_transform(
        np.arange(256, dtype=np.uint8)[None], icc, imagecodecs.cms_profile("xyz"), colorspace="gray",
        outcolorspace="xyz", outdtype="f8",
    )  # fmt: skip
    assert table == pytest.approx(lab[0, :, 1], abs=2e-4)


def test_grey_scan_with_a_profile_for_rgb():
    curve = profile_curve(scan_file(rgb_profile(CURVES["gamma 1.8"]), channels=1))
    assert curve.tables[0, 128] == pytest.approx((128 / 255) ** (461 / 256), abs=1e-6)
    with pytest.raises(CalibrationError, match="different curves"):
        profile_curve(scan_file(rgb_profile(CURVES["different"]), channels=1))


@pytest.mark.parametrize("version", [2, 4])
def test_name(version):
    icc = rgb_profile(CURVES["identity"], version=version, name="Flatbed\n<b>7</b>")
    assert profile_curve(scan_file(icc)).name == 'embedded profile "Flatbed<b>7</b>"'


def test_colour_of_the_overview_goes_through_the_primaries():
    icc = rgb_profile(CURVES["identity"])
    file = scan_file(icc)
    scan = Scan(
        file, np.zeros((10, 10), np.uint16), np.zeros((10, 10, 3), np.float32), 1, profile_curve(file).name
    )
    # The same primaries by way of D50 and back are those of IEC 61966-2-1.
    expected = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    assert rgb_to_xyz(scan) == pytest.approx(np.array(expected), abs=3e-4)


@pytest.mark.parametrize(
    ("icc", "what"),
    [
        (b"", "no embedded profile"),
        (b"abc", "damaged"),
        (bytes(200), "damaged"),
        (rgb_profile(CURVES["identity"])[:300], "damaged"),
        (profile(b"CMYK", {}), "'CMYK'"),
        (
            profile(b"RGB ", {b"A2B0": b"mft2" + bytes(60)}, name="Tables"),
            '"Tables" describes colours by tables only',
        ),
        (profile(b"GRAY", {b"kTRC": curv()}), "is for grey"),
        (rgb_profile([b"what" + bytes(20)] * 3), "unknown kind 'what'"),
        (rgb_profile([para(9, 1.0)] * 3), "unknown kind 'para'"),
    ],
)
def test_profiles_that_cannot_be_used(icc, what):
    with pytest.raises(CalibrationError) as caught:
        profile_curve(scan_file(icc))
    assert what in str(caught.value)
    assert "tone_curve" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_changed_bytes_never_end_otherwise():
    icc = rgb_profile([curv(*TABLE), para(3, 2.4, 0.9, 0.1, 0.1, 0.04), curv(400)])
    rng = np.random.default_rng(2)
    refused = 0
    for _ in range(400):
        changed = bytearray(icc)
        for place in rng.integers(0, len(icc), 3):
            changed[place] = rng.integers(0, 256)
        with np.errstate(all="ignore"):
            try:
                tables = profile_curve(scan_file(bytes(changed))).tables
            except CalibrationError:
                refused += 1
                continue
        assert tables.min() >= 0
        assert tables.max() <= 1
    assert refused > 10


def test_description_types_are_built_as_the_library_reads_them():
    assert description("x", 2)[:4] == b"desc"
    imagecodecs.cms_profile_validate(rgb_profile(CURVES["parametric 3"], version=2))
    imagecodecs.cms_profile_validate(rgb_profile(CURVES["parametric 3"], version=4))
