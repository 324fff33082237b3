"""Nested components: NIST/SEMATECH e-Handbook 6.6.1, line widths (data and source in the file beside).

Sums of squares and mean squares are as the handbook prints them (from memory) and as arithmetic gives them; components
follow from the mean squares of a balanced nest: (MS above - MS below) / readings below.
"""

from pathlib import Path

import numpy as np
import pytest

from proofkit.study.components import nested_components

WIDTHS = np.loadtxt(Path(__file__).parent / "data" / "nist_lithogra.csv", delimiter=",", skiprows=2)


@pytest.fixture(scope="module")
def nested():
    wafers = np.repeat(np.arange(90, dtype=np.intp), 5)
    nothing = np.zeros(WIDTHS.size, dtype=np.intp)
    return nested_components(WIDTHS.ravel(), nothing, [("cassette", wafers // 3), ("wafer", wafers % 3)])


def test_the_analysis_of_variance_is_the_published_one(nested):
    squares = [one.sum_squares for one in nested.components]
    assert squares == pytest.approx([127.40293, 25.52089, 63.17865], abs=5e-6)
    assert [one.freedom for one in nested.components] == [29, 60, 360]


def test_components_of_cassettes_wafers_and_sites(nested):
    found = [one.variance for one in nested.components]
    assert found == pytest.approx([0.264524, 0.049970, 0.175496], abs=1e-6)
    assert nested.variance == pytest.approx(0.264524 + 0.049970 + 0.175496, abs=3e-6)
