import math

import numpy as np

from proofkit.judgement.order import mann_kendall, theil_sen


def test_missing_sheets_leave_gaps_in_a_slope_but_not_in_a_rank_test():
    # A fall of exactly 0.5 per printed pull, of which every third sheet is missing.
    printed = np.array([1.0, 2, 4, 5, 7, 8, 10, 11])
    values = 20 - 0.5 * printed
    assert theil_sen(values, printed).slope == -0.5
    assert theil_sen(values, np.arange(8.0)).slope < -0.7
    assert mann_kendall(values).s == mann_kendall(np.insert(values, 3, np.nan)).s == -28


def test_one_wild_sheet_in_four_does_not_turn_a_slope():
    printed = np.arange(12.0)
    values = 0.1 * printed
    values[[2, 6, 9]] += (50, -70, 90)
    slope = theil_sen(values, printed)
    assert abs(slope.slope - 0.1) < 0.02
    assert slope.lower <= slope.slope <= slope.upper


def test_too_few_values_have_no_slope():
    assert math.isnan(theil_sen(np.array([1.0, 2.0]), np.array([1.0, 2.0])).slope)
    assert math.isnan(theil_sen(np.array([1.0, 2.0, 3.0]), np.ones(3)).slope)
