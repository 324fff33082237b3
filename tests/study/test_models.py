import math
import warnings

import numpy as np
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from proofkit.study.models import TooLittleError, contained_freedom, effect, fit, joint_test


def split_plot(rng, *, pulls=6, regions=4, pull_sd=1.0, noise_sd=0.5, across=2.0, inside=1.0):
    """One factor varied from pull to pull, one within each pull; (response, design, groups)."""
    pull = np.repeat(np.arange(pulls), regions)
    outer = (pull % 2).astype(float)
    inner = np.tile(np.arange(regions) % 2, pulls).astype(float)
    luck = rng.normal(0, pull_sd, pulls)[pull]
    response = 10 + across * outer + inside * inner + luck + rng.normal(0, noise_sd, pull.size)
    return response, np.column_stack((np.ones(pull.size), outer, inner)), pull


def test_a_factor_between_pulls_is_tested_against_pulls():
    # Balanced, so the exact test is the t test of pull means (textbooks on split plots).
    response, design, pull = split_plot(np.random.default_rng(0))
    found = fit(response, design, pull)
    means = np.array([response[pull == k].mean() for k in range(6)])
    apart = means[1::2].mean() - means[::2].mean()
    pooled = math.sqrt((means[::2].var(ddof=1) + means[1::2].var(ddof=1)) / 2 * (1 / 3 + 1 / 3))
    assert found.model == "mixed"
    assert found.effects[1].estimate == pytest.approx(apart)
    assert found.effects[1].error == pytest.approx(pooled, rel=1e-3)
    assert found.effects[1].freedom == 4


def test_a_factor_within_pulls_is_tested_within_them():
    # The exact test is the paired one: the luck of a pull drops out.
    response, design, pull = split_plot(np.random.default_rng(1), pull_sd=5.0)
    found = fit(response, design, pull)
    apart = [response[(pull == k) & (design[:, 2] == 1)].mean() - response[(pull == k) & (design[:, 2] == 0)].mean()
             for k in range(6)]  # fmt: skip
    assert found.effects[2].estimate == pytest.approx(np.mean(apart))
    assert found.effects[2].freedom == 17
    assert found.group_sd == pytest.approx(5.0, rel=0.6)


@pytest.mark.parametrize("pull_sd", [0.0, 1.0])
def test_intervals_hold_the_planted_effects(pull_sd):
    # 95 % nominal; 300 experiments know a rate to 1.3 %: 92 to 98 % is allowed. Without luck of pulls the component is
    # at its edge of zero half the time and above it else, so that intervals hold more than they say.
    rng = np.random.default_rng(2)
    held = np.zeros(2)
    trials = 300
    for _ in range(trials):
        found = fit(*split_plot(rng, pull_sd=pull_sd))
        for k, truth in enumerate((2.0, 1.0)):
            held[k] += found.effects[k + 1].low <= truth <= found.effects[k + 1].high
    assert (held >= 0.92 * trials).all()
    assert (held <= (0.98 if pull_sd else 1.0) * trials).all()


@pytest.mark.parametrize("pulls", [2, 3])
def test_intervals_hold_with_few_pulls_and_missing_readings(pulls):
    # Two settings, two or three pulls of each, four regions, a third of the readings missing: the freedom between pulls
    # is 2 or 4, where an interval by the normal distribution would hold 81 to 88 %, as 1.96 lies there in Student's t.
    rng = np.random.default_rng(5)
    held, trials = np.zeros(2), 0
    while trials < 400:
        setting, region, pull = (
            axis.ravel() for axis in np.meshgrid([0, 1], range(4), range(pulls), indexing="ij")
        )
        group = setting * pulls + pull
        response = (
            3.0
            + 2.0 * setting
            + region % 2
            + rng.normal(0, 1.0, 2 * pulls)[group]
            + rng.normal(0, 1.0, group.size)
        )
        seen = rng.uniform(size=group.size) > 1 / 3
        design = np.column_stack((np.ones(group.size), setting, region % 2))[seen]
        try:
            found = fit(response[seen], design, group[seen])
        except TooLittleError:
            continue
        if not math.isfinite(found.effects[1].low):
            continue
        trials += 1
        held += [found.effects[k].low <= truth <= found.effects[k].high for k, truth in ((1, 2.0), (2, 1.0))]
    # 400 experiments know a rate to 1.1 %: three of it under the nominal 95 %.
    assert (held >= 0.917 * trials).all()


def test_effects_of_the_detectable_size_are_found_in_80_of_100():
    rng = np.random.default_rng(3)
    x = np.tile([0.0, 1.0], 10)
    design = np.column_stack((np.ones(20), x))
    size = 2.0 * math.sqrt(1 / 10 + 1 / 10) * (effect(0.0, 1.0, 18).detectable)
    found = sum(fit(size * x + rng.normal(0, 2.0, 20), design).effects[1].p < 0.05 for _ in range(400))
    assert found / 400 == pytest.approx(0.8, abs=0.06)


def test_settings_that_always_go_together_cannot_be_told_apart():
    x = np.array([0.0, 1.0, 0.0, 1.0])
    with pytest.raises(TooLittleError, match="always go together"):
        fit(np.arange(4.0), np.column_stack((np.ones(4), x, 2 * x)))


def test_as_many_effects_as_rows_leave_no_error():
    with pytest.raises(TooLittleError, match="2 rows"):
        fit(np.array([1.0, 2.0]), np.array([[1.0, 0.0], [1.0, 1.0]]))


def test_one_pull_per_setting_gives_the_estimate_and_no_interval():
    # Two pulls with many regions each: what the pulls differ by cannot be told from what the setting does.
    response, design, pull = split_plot(np.random.default_rng(4), pulls=2, regions=6)
    found = fit(response, design, pull)
    assert math.isfinite(found.effects[1].estimate)
    assert found.effects[1].freedom == 0
    assert math.isnan(found.effects[1].low)
    assert math.isnan(found.effects[1].p)
    assert math.isnan(joint_test(found, [1]).f)


@pytest.mark.parametrize("seed", range(5))
def test_a_spread_between_pulls_that_cannot_be_told_is_not_chosen_by_rounding(seed):
    # A setting for each pull takes up all that pulls differ by; what varies inside them has the paired test of the
    # textbooks, whose error knows nothing of the pulls.
    response, design, pull = split_plot(np.random.default_rng(seed), pulls=2, regions=8)
    found = fit(response, design, pull)
    own = response - np.array([response[pull == k].mean() for k in range(2)])[pull]
    high = design[:, 2] == 1
    left = own - np.where(high, own[high].mean(), own[~high].mean())
    assert math.isnan(found.group_sd)
    assert found.residual_sd == pytest.approx(math.sqrt(float((left**2).sum()) / (16 - 3)))
    assert found.effects[2].error == pytest.approx(found.residual_sd / 2)


def test_freedom_follows_the_level_at_which_a_column_varies():
    _, design, pull = split_plot(np.random.default_rng(0), pulls=6, regions=4)
    assert contained_freedom(design, pull) == (4, 4, 17)


def test_units_of_a_factor_do_not_matter():
    response, design, pull = split_plot(np.random.default_rng(5))
    other = design * np.array([1.0, 1.0, 1e6])
    one, two = fit(response, design, pull), fit(response, other, pull)
    assert two.effects[2].estimate == pytest.approx(one.effects[2].estimate / 1e6, rel=1e-6)
    assert two.effects[2].p == pytest.approx(one.effects[2].p, rel=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_mixed_models_agree_with_statsmodels(seed):
    # Unbalanced, with a covariate: statsmodels' own REML fit of a random intercept.
    rng = np.random.default_rng(seed)
    groups = np.repeat(np.arange(7), [2, 5, 3, 4, 6, 2, 3])
    x = rng.normal(size=groups.size)
    response = 3 + 0.7 * x + rng.normal(0, 1.5, 7)[groups] + rng.normal(0, 0.8, groups.size)
    design = np.column_stack((np.ones(x.size), x))
    own = fit(response, design, groups)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        other = MixedLM(response, design, groups=groups).fit(reml=True, method="powell")
    assert [one.estimate for one in own.effects] == pytest.approx(other.fe_params, rel=1e-4)
    # Its errors come from a numerical Hessian that mixes in the variances; generalised least squares has them exactly.
    v = np.eye(x.size) * other.scale + other.cov_re[0, 0] * (groups[:, None] == groups)
    exact = np.sqrt(np.diag(np.linalg.inv(design.T @ np.linalg.inv(v) @ design)))
    assert [one.error for one in own.effects] == pytest.approx(exact, rel=1e-4)
    assert [one.error for one in own.effects] == pytest.approx(other.bse_fe, rel=0.02)
    assert own.group_sd == pytest.approx(math.sqrt(other.cov_re[0, 0]), rel=2e-3)
    assert own.residual_sd == pytest.approx(math.sqrt(other.scale), rel=1e-3)
