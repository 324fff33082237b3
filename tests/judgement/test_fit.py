import numpy as np
import pytest
from scipy import stats

from proofkit.judgement.fit import fit_column, hand_of
from proofkit.judgement.scales import Judged
from proofkit.judgement.spread import PRIOR_PULLS
from proofkit.judgement.values import Column

LOAD = Judged("line_load_um", "log", 0.03, 0.001, 0.06)


def column(scaled, uncertainties=None, judged=LOAD):
    scaled = np.asarray(scaled, dtype=np.float64)
    u = np.zeros(scaled.shape) if uncertainties is None else np.asarray(uncertainties, dtype=np.float64)
    return Column(
        judged, tuple(f"r{i}" for i in range(scaled.shape[1])), scaled, u, np.zeros(len(scaled)), scaled[0]
    )


def hand(seed=0, pulls=20, regions=6, common=0.03, own=0.01):
    rng = np.random.default_rng(seed)
    return 4.0 + rng.normal(0, common, (pulls, 1)) + rng.normal(0, own, (pulls, regions)) + np.arange(regions)


ALL = np.ones(20, dtype=bool)


def test_another_level_of_a_region_changes_nothing():
    values = hand()
    shifted = values + np.array([0.0, 5.0, -1.0, 0.0, 2.0, 0.3])
    np.testing.assert_allclose(
        fit_column(column(values), ALL).local.p, fit_column(column(shifted), ALL).local.p
    )


def test_a_change_of_the_whole_sheet_is_seen_in_the_sheet_part_alone():
    values = hand()
    changed = values.copy()
    changed[-1] += 0.25
    before, after = (fit_column(column(one), np.arange(20) < 19) for one in (values, changed))
    assert after.sheet.p[-1, 0] < 1e-4 < before.sheet.p[-1, 0]
    np.testing.assert_allclose(after.local.p, before.local.p, rtol=1e-9)


def test_a_change_of_one_region_is_seen_against_the_rest_of_its_sheet():
    values = hand()
    values[-1, 2] += 0.08
    fit = fit_column(column(values), np.arange(20) < 19)
    assert fit.local.p[-1, 2] < 1e-4
    assert fit.sheet.p[-1, 0] > 0.01
    assert fit.total.p[-1, 2] > fit.local.p[-1, 2]


def test_chances_of_good_pulls_are_even():
    # Twenty good pulls among themselves, each left out in turn: their p-values are uniform (Kolmogorov-Smirnov).
    p = np.concatenate([fit_column(column(hand(seed)), ALL).sheet.p[:, 0] for seed in range(40)])
    assert stats.kstest(p[::5], "uniform").pvalue > 0.01


def test_few_good_pulls_widen_the_limits():
    values = hand(seed=3)
    values[-1] = values[0] + 0.15
    p = [fit_column(column(values), np.arange(20) < n).sheet.p[-1, 0] for n in (4, 19)]
    assert p[0] > 3 * p[1]


def test_what_is_less_certain_needs_more():
    values = hand()
    values[-1] += 0.2
    u = np.zeros(values.shape)
    sure = fit_column(column(values, u), np.arange(20) < 19).total.p[-1]
    u[-1] = 0.1
    assert (fit_column(column(values, u), np.arange(20) < 19).total.p[-1] > sure).all()


def test_no_spread_at_all_falls_back_on_the_floor():
    values = np.full((20, 1), 2.0)
    values[-1] = 2.3
    fit = fit_column(column(values), np.arange(20) < 19)
    assert fit.has_no_spread
    assert fit.sheet_spread >= LOAD.floor
    assert fit.sheet.p[-1, 0] < 1e-6
    assert np.isnan(fit.sheet.p[:-1]).all()


def test_scatter_between_scans_is_a_floor():
    assert fit_column(column(hand()), ALL, relay=0.5).sheet_spread == pytest.approx(0.5)


def test_gaps_in_the_table_cost_only_themselves():
    values = hand()
    values[3, 1] = np.nan
    values[5] = np.nan
    fit = fit_column(column(values), ALL)
    assert np.isnan(fit.total.p[3, 1])
    assert np.isnan(fit.sheet.p[5, 0])
    assert np.isfinite(fit.total.p[4]).all()


def test_a_slow_drift_does_not_widen_the_spread():
    # Pull-to-pull scatter 0.02 on a drift of 0.5 over the run: about its mean the run spreads by 0.15.
    rng = np.random.default_rng(8)
    run = 4.0 + rng.normal(0, 0.02, 20) + np.linspace(0, -0.5, 20)
    fit = fit_column(column(run[:, None]), ALL)
    assert run.std(ddof=1) > 0.1
    assert fit.sheet_spread < 0.035


def test_measures_that_agree_know_the_hand_together():
    # Twelve measures whose good pulls all vary by 0.6 of the usual: their common hand is that, and worth many pulls.
    rng = np.random.default_rng(9)
    fits = {
        f"m{i}": fit_column(column(rng.normal(0, 0.6 * LOAD.usual, (20, 1))), np.arange(20) < 10)
        for i in range(12)
    }
    hand = hand_of(fits)
    assert hand.variance_ratio == pytest.approx(0.36, rel=0.25)
    assert hand.freedom > 2 * PRIOR_PULLS


def test_confirming_pulls_hold_centre_and_spread():
    # Four confirming pulls about 0; sixteen others drift far off. Centre and spread stay what the four allow.
    rng = np.random.default_rng(10)
    run = np.concatenate((rng.normal(0, 0.02, 4), rng.normal(0.3, 0.2, 16)))
    free = fit_column(column(run[:, None]), ALL)
    held = fit_column(column(run[:, None]), ALL, anchor=np.arange(20) < 4)
    assert free.centre[0] > 0.15
    assert abs(held.centre[0]) < 0.06
    assert held.sheet_spread < 0.07 < free.sheet_spread
