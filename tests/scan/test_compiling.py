"""Kernels also work where nothing can be kept on disk."""

import numpy as np

from proofkit.scan.compiling import kernel, wide_kernel


def test_without_a_place_for_the_cache():
    space: dict = {}
    exec("def twice(a):\n    return a * 2\n", space)  # noqa: S102 - code without a file cannot be kept
    assert kernel(space["twice"])(np.arange(3)).tolist() == [0, 2, 4]


def test_sums_and_quotients_of_many():
    space: dict = {}
    code = (
        "def share(a, b):",
        "    total = 0.0",
        "    for k in range(a.size):",
        "        total += a[k] / b[k]",
        "    return total",
    )
    exec("\n".join(code), space)  # noqa: S102 - code without a file cannot be kept
    share = wide_kernel(space["share"])
    a, b = np.random.default_rng(2).uniform(1.0, 2.0, (2, 1000))
    assert np.isclose(share(a, b), np.sum(a / b), rtol=1e-13)
    assert share(a, np.zeros(1000)) == np.inf
