import numpy as np
import pytest

from proofkit.study.same_sheet import detail, difference, strangers

SHAPE = (60, 80)


@pytest.fixture(scope="module")
def sheets():
    """Three sheets of one plate: the same picture, each with its own grain of ink, on paper of its own level."""
    rng = np.random.default_rng(0)
    plate = 0.4 + 0.3 * rng.random(SHAPE)
    return [plate * (1 + 0.01 * rng.standard_normal(SHAPE)) * level for level in (1.0, 0.97, 1.02)]


def scan(sheet, seed):
    """A scan with noise, a lamp that falls off to one side, and a corner that the scanner missed."""
    rng = np.random.default_rng(seed)
    lamp = 1 + 0.02 * rng.standard_normal() * np.linspace(-1, 1, SHAPE[1])
    seen = (sheet * lamp + 0.001 * rng.standard_normal(SHAPE)).astype(np.float32)
    seen[:5, :5] = np.nan
    return seen


def test_scans_of_one_sheet_are_nearer_than_other_sheets(sheets):
    first, again, other = (detail(scan(sheets[k], seed)) for k, seed in ((0, 1), (0, 2), (1, 3)))
    assert difference(first, again) < 0.5 * difference(first, other)


def test_a_scan_of_another_sheet_is_named(sheets):
    pictures = {name: scan(sheets[k], seed) for seed, (name, k) in enumerate(
        [("a1", 0), ("a2", 0), ("a3", 0), ("wrong", 1), ("other", 2)]
    )}  # fmt: skip
    found = strangers({"a": ["a1", "a2", "a3", "wrong"]}, pictures, ["other"])
    assert list(found) == ["wrong"]
    assert "pull 'a'" in found["wrong"]


def test_other_repeated_sheets_serve_as_others(sheets):
    pictures = {name: scan(sheets[k], seed) for seed, (name, k) in enumerate(
        [("a1", 0), ("a2", 0), ("b1", 1), ("b2", 1)]
    )}  # fmt: skip
    assert strangers({"a": ["a1", "a2"], "b": ["b1", "b2"]}, pictures, []) == {}


def test_without_another_sheet_nothing_is_claimed(sheets):
    assert strangers({"a": ["a1", "a2"]}, {"a1": scan(sheets[0], 0), "a2": scan(sheets[1], 1)}, []) == {}


def test_pictures_of_other_size_cannot_be_compared():
    assert np.isnan(difference(np.zeros((2, 2)), np.zeros((2, 3))))
