"""Kernels also work where nothing can be kept on disk, and what is kept is only used for the same code."""

import os
import subprocess
import sys

import numpy as np
import pytest

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


CALLED = """
from proofkit.scan.compiling import kernel

STEP = {step}

@kernel
def scaled(a):
    return {scale} * a
"""

NAMED = """
from typing import NamedTuple

class Pair(NamedTuple):
    {fields}
"""

CALLING = """
from called import STEP, scaled
from named import Pair
from proofkit.scan.compiling import kernel

@kernel
def moved(a):
    pair = Pair(a, 0.0)
    return scaled(pair.one + 3.0 * pair.other) + STEP

def main():
    print(moved(1.0), sum(moved.stats.cache_hits.values()))
"""


def run_moved(folder, scale, step, fields=("one", "other")):
    """Write the modules it leans on, run the calling one by itself; return its result and what was kept."""
    (folder / "called.py").write_text(CALLED.format(scale=scale, step=step))
    (folder / "named.py").write_text(NAMED.format(fields="; ".join(f"{name}: float" for name in fields)))
    environment = os.environ | {"NUMBA_CACHE_DIR": str(folder / "kept"), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [sys.executable, "-c", "import calling; calling.main()"],
        cwd=folder, env=environment | {"PYTHONPATH": os.pathsep.join(sys.path)}, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    result, hits = done.stdout.split()
    return float(result), int(hits)


@pytest.mark.parametrize("changed", [(5.0, 1.0), (2.0, 7.0)], ids=["a function", "a number"])
def test_what_another_file_gives_is_asked_for_too(tmp_path, changed):
    (tmp_path / "calling.py").write_text(CALLING)
    assert run_moved(tmp_path, 2.0, 1.0) == (3.0, 0)
    assert run_moved(tmp_path, 2.0, 1.0) == (3.0, 1)
    scale, step = changed
    assert run_moved(tmp_path, scale, step) == (scale + step, 0)


def test_the_order_of_named_values_is_asked_for_too(tmp_path):
    (tmp_path / "calling.py").write_text(CALLING)
    assert run_moved(tmp_path, 2.0, 1.0) == (3.0, 0)
    assert run_moved(tmp_path, 2.0, 1.0, ("other", "one")) == (7.0, 0)
