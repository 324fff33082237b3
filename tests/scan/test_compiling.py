"""Kernels also work where nothing can be kept on disk."""

import numpy as np

from proofkit.scan.compiling import kernel


def test_without_a_place_for_the_cache():
    space: dict = {}
    exec("def twice(a):\n    return a * 2\n", space)  # noqa: S102 - code without a file cannot be kept
    assert kernel(space["twice"])(np.arange(3)).tolist() == [0, 2, 4]
