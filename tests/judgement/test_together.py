"""Measures judged together, on columns whose correlation is known by construction."""

import numpy as np
import pytest

from proofkit.judgement.fit import fit_column
from proofkit.judgement.scales import BY_NAME
from proofkit.judgement.together import together
from proofkit.judgement.values import SHEET, Column

PULLS = 24
EVERYONE = np.ones(PULLS, dtype=bool)


def column(measure, values):
    none = np.zeros(PULLS)
    return Column(BY_NAME[measure], (SHEET,), values[:, None], none[:, None], none, np.zeros(1))


def edition(rng, correlation=0.95):
    """Load and width vary by 3 % and go together; the core is on its own."""
    common = rng.normal(0, 0.03, PULLS)
    own = 0.03 * np.sqrt(1 - correlation**2)
    return {
        "line_load_um": common,
        "line_width_um": correlation * common + rng.normal(0, own, PULLS),
        "line_core_density": rng.normal(0, 0.04, PULLS),
    }


def judged(values, good=EVERYONE):
    fits = {name: fit_column(column(name, one), good) for name, one in values.items()}
    return fits, together(fits, good)["line_distance"]


def test_what_breaks_step_is_seen_though_each_measure_is_within_its_limits():
    flagged = 0
    for seed in range(10):
        values = edition(np.random.default_rng(seed))
        values["line_load_um"][-1], values["line_width_um"][-1] = 0.05, -0.05
        good = EVERYONE.copy()
        good[-1] = False
        fits, joint = judged(values, good)
        assert all(fits[name].sheet.p[-1, 0] > 0.01 for name in ("line_load_um", "line_width_um"))
        flagged += joint.p[-1] < 0.01
        pair = joint.parts[-1, :2]
        assert pair.sum() > 0.8 * joint.squared[-1]
    assert flagged >= 8


def test_what_keeps_step_is_ordinary():
    values = edition(np.random.default_rng(3))
    values["line_load_um"][-1] = values["line_width_um"][-1] = 0.06
    good = EVERYONE.copy()
    good[-1] = False
    assert judged(values, good)[1].p[-1] > 0.02


@pytest.mark.parametrize("correlation", [0.0, 0.9])
def test_chances_of_good_pulls_are_chances(correlation):
    p = np.concatenate([judged(edition(np.random.default_rng(100 + k), correlation))[1].p for k in range(20)])
    # 480 pulls that are not independent within an edition: errors doubled.
    for chance in (0.01, 0.05, 0.2):
        share = float((p < chance).mean())
        assert share <= chance + 4 * np.sqrt(chance / p.size)


def test_a_lasting_shift_does_not_hide_itself_in_the_correlations():
    values = edition(np.random.default_rng(5))
    for name in ("line_load_um", "line_width_um"):
        values[name][12:] += 0.06 if name == "line_load_um" else -0.06
    _, joint = judged(values)
    load, width = (joint.names.index(name) for name in ("line_load_um", "line_width_um"))
    assert joint.known[0, load, width] > 0.3
    # About the mean the shift turns the sign of what moves together from pull to pull.
    assert np.corrcoef(values["line_load_um"], values["line_width_um"])[0, 1] < 0.3


def test_missing_values_count_as_ordinary():
    values = edition(np.random.default_rng(6))
    values["line_width_um"][4] = np.nan
    _, joint = judged(values)
    assert np.isfinite(joint.p).all()
    assert joint.scores[4, joint.names.index("line_width_um")] == 0
