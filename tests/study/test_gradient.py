import numpy as np
import pytest

from proofkit.folder.edition import Region, rectangle
from proofkit.study.gradient import common_tilt, tilts
from proofkit.study.models import TooLittleError

REGION = Region("cloth", "tone", rectangle(10.0, 5.0, 50.0, 25.0))


def pull(rng, tilt_mm, *, hand=0.0005):
    """A texture of 0.5 mm cells on a plate of 60 x 30 mm: the plate's tilt, and a slope that this wiping left."""
    y, x = (np.indices((60, 120)) + 0.5) * 0.5
    slope = np.array(tilt_mm) + rng.normal(0, hand, 2)
    density = 0.3 + slope[0] * (x - 30) + slope[1] * (y - 15) + rng.normal(0, 0.02, x.shape)
    return (10.0**-density).astype(np.float32)


def test_a_planted_tilt_is_found_with_its_direction():
    # 0.002 D per mm downwards over 20 mm: 0.04 D; down is 270 deg.
    rng = np.random.default_rng(0)
    found = common_tilt(REGION, {str(k): pull(rng, (0.0, 0.002)) for k in range(8)})
    assert found.across_density == pytest.approx(0.04, abs=3 * found.u_density)
    assert found.u_density < 0.01
    assert abs((found.direction_deg - 270 + 180) % 360 - 180) < 25
    assert found.p < 0.01


def test_slopes_that_differ_from_pull_to_pull_are_the_hand():
    # 5 % of studies without a tilt find one: 60 of them find 3 on average, 8 or more in under 1 of 100 cases.
    rng = np.random.default_rng(1)
    called = sum(
        common_tilt(REGION, {str(k): pull(rng, (0, 0)) for k in range(5)}).p < 0.05 for _ in range(60)
    )
    assert called <= 8


def test_grain_that_lies_unevenly_by_chance_is_no_tipped_bath():
    # Blotches of 2 mm that are the same on every pull, on 60 plates without a tilt: as above.
    rng = np.random.default_rng(4)
    called = 0
    for _ in range(60):
        blotches = 1 + 0.15 * np.kron(rng.standard_normal((15, 30)), np.ones((4, 4))).astype(np.float32)
        pulls = {str(k): pull(rng, (0, 0), hand=1e-5) * np.clip(blotches, 0.3, 1.7) for k in range(4)}
        called += common_tilt(REGION, pulls).p < 0.05
    assert called <= 8


def test_two_pulls_cannot_tell():
    rng = np.random.default_rng(2)
    with pytest.raises(TooLittleError, match="3 pulls or more, there are 2"):
        common_tilt(REGION, {str(k): pull(rng, (0, 0)) for k in range(2)})


def test_what_cannot_be_asked_is_said():
    rng = np.random.default_rng(3)
    pictures = {str(k): pull(rng, (0.001, 0)) for k in range(4)}
    small = Region("dot", "tone", rectangle(1.0, 1.0, 2.0, 2.0))
    found, remarks = tilts((REGION, small), ("cloth", "dot", "sky"), pictures)
    assert [one.region for one in found] == ["cloth"]
    assert "region dot is too small" in remarks[0]
    assert "no region 'sky'" in remarks[1]
