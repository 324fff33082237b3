"""Least squares and analysis of variance against certified values of the NIST Statistical Reference Datasets.

The files nist_strd_*.dat are the published ones (as SciPy's tests carry them), header and certified values included;
Longley's rows and values were read from copies of Longley.dat in public test suites that name it as their source.
"""

from pathlib import Path

import numpy as np
import pytest

from proofkit.study.models import fit, joint_test

DATA = Path(__file__).parent / "data"


def test_norris_line():
    x, y = np.loadtxt(DATA / "nist_strd_norris.dat", skiprows=60).T[::-1]
    found = fit(y, np.column_stack((np.ones_like(x), x)))
    assert [one.estimate for one in found.effects] == pytest.approx(
        [-0.262323073774029, 1.00211681802045], rel=1e-11
    )
    errors = [one.error for one in found.effects]
    assert errors == pytest.approx([0.232818234301152, 0.429796848199937e-03], rel=1e-10)
    assert found.residual_sd == pytest.approx(0.884796396144373, rel=1e-11)
    assert found.effects[0].freedom == 34


LONGLEY = np.array(
    [
        [60323, 83.0, 234289, 2356, 1590, 107608, 1947], [61122, 88.5, 259426, 2325, 1456, 108632, 1948],
        [60171, 88.2, 258054, 3682, 1616, 109773, 1949], [61187, 89.5, 284599, 3351, 1650, 110929, 1950],
        [63221, 96.2, 328975, 2099, 3099, 112075, 1951], [63639, 98.1, 346999, 1932, 3594, 113270, 1952],
        [64989, 99.0, 365385, 1870, 3547, 115094, 1953], [63761, 100.0, 363112, 3578, 3350, 116219, 1954],
        [66019, 101.2, 397469, 2904, 3048, 117388, 1955], [67857, 104.6, 419180, 2822, 2857, 118734, 1956],
        [68169, 108.4, 442769, 2936, 2798, 120445, 1957], [66513, 110.8, 444546, 4681, 2637, 121950, 1958],
        [68655, 112.6, 482704, 3813, 2552, 123366, 1959], [69564, 114.2, 502601, 3931, 2514, 125368, 1960],
        [69331, 115.7, 518173, 4806, 2572, 127852, 1961], [70551, 116.9, 554894, 4007, 2827, 130081, 1962],
    ]
)  # fmt: skip
LONGLEY_CERTIFIED = (
    (-3482258.63459582, 890420.383607373), (15.0618722713733, 84.9149257747669),
    (-0.358191792925910e-01, 0.334910077722432e-01), (-2.02022980381683, 0.488399681651699),
    (-1.03322686717359, 0.214274163161675), (-0.511041056535807e-01, 0.226073200069370),
    (1829.15146461355, 455.478499142212),
)  # fmt: skip


def test_longley_whose_columns_nearly_say_the_same():
    found = fit(LONGLEY[:, 0], np.column_stack((np.ones(16), LONGLEY[:, 1:])))
    for one, (estimate, error) in zip(found.effects, LONGLEY_CERTIFIED, strict=True):
        assert one.estimate == pytest.approx(estimate, rel=1e-7)
        assert one.error == pytest.approx(error, rel=1e-7)
    assert found.residual_sd == pytest.approx(304.854073561965, rel=1e-8)
    joint = joint_test(found, [1, 2, 3, 4, 5, 6])
    assert joint.f == pytest.approx(330.285339234588, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "f", "between", "within", "residual_sd", "digits"),
    [
        # Certified F, degrees of freedom and residual standard deviation; digits as the data's leading ones allow.
        ("sirstv", 1.18046237440255, 4, 20, 1.04076068334656e-01, 1e-9),
        ("atmwtag", 15.9467335677930, 1, 46, 1.51048314446410e-05, 1e-6),
        ("smls01", 21.0, 8, 180, 1e-01, 1e-9),
        ("smls04", 21.0, 8, 180, 1e-01, 1e-6),
    ],
)
def test_analysis_of_variance(name, f, between, within, residual_sd, digits):
    groups, values = np.loadtxt(DATA / f"nist_strd_{name}.dat", skiprows=60).T
    levels = np.unique(groups)
    dummies = [(groups == level).astype(float) for level in levels[1:]]
    found = fit(values, np.column_stack((np.ones_like(values), *dummies)))
    joint = joint_test(found, list(range(1, len(levels))))
    assert (joint.numerator, joint.denominator) == (between, within)
    assert joint.f == pytest.approx(f, rel=digits)
    assert found.residual_sd == pytest.approx(residual_sd, rel=digits)
