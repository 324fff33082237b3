"""Statistics of blocks against numpy on the blocks themselves."""

import cv2
import numpy as np
import pytest

from proofkit.measures.block_kernels import block_percentiles, block_shares


@pytest.mark.parametrize("percent", [0, 25, 50, 97.3, 100])
def test_percentiles_are_those_of_numpy(percent):
    rng = np.random.default_rng(2)
    codes = rng.integers(0, 256, (45, 68)).astype(np.uint8)
    codes[:15, :17] = 77
    codes[15:30, :17] = np.where(rng.random((15, 17)) < 0.25, 10, 200)
    found = block_percentiles(codes, 3, 4, percent)
    blocks = codes.reshape(3, 15, 4, 17)
    assert found == pytest.approx(np.percentile(blocks, percent, axis=(1, 3)), abs=1e-9)


@pytest.mark.parametrize(("rows", "columns"), [(7, 9), (43, 61), (1, 1), (20, 13)])
def test_shares_of_blocks_are_those_of_opencv(rows, columns):
    rng = np.random.default_rng(6)
    picture = rng.uniform(0, 1, (43, 61)).astype(np.float32)
    known = rng.random(picture.shape) < 0.6
    picture[~known] = np.nan
    share, mean = block_shares(picture, known, rows, columns)
    size = (columns, rows)
    wanted = cv2.resize(known.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    assert share == pytest.approx(wanted, abs=2e-6)
    wanted = cv2.resize(np.nan_to_num(picture), size, interpolation=cv2.INTER_AREA)
    assert mean == pytest.approx(wanted, abs=2e-6)
