import numpy as np
import pytest

from proofkit.scan.kernels import SHIFT, add_rgb

UNIT = 1 << SHIFT
WEIGHTS = np.array([[0.2126], [0.7152], [0.0722]])
"""Of the channels of sRGB in luminance (ITU-R BT.709)."""


@pytest.mark.parametrize("curve", ["within", "beyond white", "below black"])
@pytest.mark.parametrize(("step", "lack", "column"), [(8, 0, 0), (5, 2, 3)])
def test_pieces_are_luminance_in_whole_numbers_and_sums_of_blocks(curve, step, lack, column):
    draw = np.random.default_rng(7)
    codes = draw.integers(0, 256, (13, 41, 3), dtype=np.uint8)
    linear = np.linspace(0, 1, 256) * {"beyond white": 1.2}.get(curve, 1.0) - 0.1 * (curve == "below black")
    tables = np.rint(WEIGHTS * linear * 65535 * UNIT).astype(np.int32)
    plane = np.zeros((13, 60), dtype=np.uint16)
    sums = np.zeros((13 // step + 2, 60 // step + 2, 3), dtype=np.int64)
    add_rgb(codes, tables, plane, sums, (0, column, step, lack, lack, 0))
    shares = np.stack([tables[c][codes[..., c]] for c in range(3)], axis=2).astype(np.int64)
    told = np.clip((shares.sum(axis=2) + UNIT // 2) // UNIT, 0, 65535)
    assert (plane[:, column : column + 41] == told).all()
    assert not plane[:, :column].any()
    assert not plane[:, column + 41 :].any()
    expected = np.zeros_like(sums)
    rows, columns = np.mgrid[:13, column : column + 41]
    np.add.at(expected, ((rows + lack) // step, (columns + lack) // step), shares)
    assert (sums == expected).all()
    at_its_end = {"beyond white": 65535, "below black": 0}.get(curve)
    assert at_its_end is None or (told == at_its_end).any()
