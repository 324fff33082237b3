"""Each function beside scipy.stats, which asks the same functions after looking at what it was given."""

import numpy as np
import pytest
from scipy import stats

from proofkit import distributions as own

SHARES = np.concatenate(([0.0, 1e-12, 1e-6, 0.999999, 1.0, np.nan], np.linspace(0.01, 0.99, 23)))
VALUES = np.concatenate(([-np.inf, -40.0, 40.0, np.inf, np.nan, 0.0], np.linspace(-6, 6, 31)))
FREEDOMS = np.array([0.5, 1.0, 2.0, 3.7, 9.0, 60.0, 1000.0, np.inf, np.nan, 0.0, -1.0])[:, None]
RATIOS = np.concatenate(([0.0, np.inf, np.nan], np.linspace(0.01, 30, 23)))
COUNTS = np.concatenate(([-1.0, 400.0], np.arange(12.0)))


@pytest.mark.parametrize(
    ("found", "theirs"),
    [
        (own.normal_above(VALUES), stats.norm.sf(VALUES)),
        (own.normal_exceeded(SHARES), stats.norm.isf(SHARES)),
        (own.t_below(VALUES, FREEDOMS), stats.t.cdf(VALUES, FREEDOMS)),
        (own.t_above(VALUES, FREEDOMS), stats.t.sf(VALUES, FREEDOMS)),
        (own.t_quantile(SHARES, FREEDOMS), stats.t.ppf(SHARES, FREEDOMS)),
        (own.chi_square_quantile(SHARES, FREEDOMS[:7]), stats.chi2.ppf(SHARES, FREEDOMS[:7])),
        (own.chi_square_quantile(0.2, FREEDOMS[8:]), stats.chi2.ppf(0.2, FREEDOMS[8:])),
        (own.f_quantile(SHARES[1:-1], 5, FREEDOMS[:7]), stats.f.ppf(SHARES[1:-1], 5, FREEDOMS[:7])),
        (own.f_above(RATIOS, 5, FREEDOMS[:7]), stats.f.sf(RATIOS, 5, FREEDOMS[:7])),
        (own.gamma_quantile(SHARES, FREEDOMS[:7]), stats.gamma.ppf(SHARES, FREEDOMS[:7])),
        (own.cauchy_above(VALUES), stats.cauchy.sf(VALUES)),
        (own.poisson_above(COUNTS, 3.4), stats.poisson.sf(COUNTS, 3.4)),
        (own.negative_binomial_above(COUNTS, 2.3, 0.4), stats.nbinom.sf(COUNTS, 2.3, 0.4)),
    ],
)
def test_chances_and_quantiles(found, theirs):
    assert np.isfinite(theirs).sum() > 0 or np.isnan(theirs).all()
    np.testing.assert_allclose(found, theirs, rtol=1e-9, atol=1e-300)
