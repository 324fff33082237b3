"""CIEDE2000 against the published pairs of Sharma, Wu and Dalal (2005), in ciede2000_pairs.csv."""

from pathlib import Path

import pandas as pd
import pytest

from proofkit.reflectance.colour import delta_e_2000

PAIRS = pd.read_csv(Path(__file__).with_name("ciede2000_pairs.csv"), comment="#")

# The two hues of pair 14 differ by exactly 180 degrees in exact arithmetic: the last bit of an arctangent decides
# which way round is short, and with it between 4.8045 and 4.7461.
DECIDED = PAIRS[PAIRS.pair != 14]


@pytest.mark.parametrize("row", list(DECIDED.itertuples()), ids=lambda row: str(row.pair))
def test_pairs(row):
    one, two = (row.L1, row.a1, row.b1), (row.L2, row.a2, row.b2)
    assert delta_e_2000(one, two) == pytest.approx(row.difference, abs=5.1e-5)
    assert delta_e_2000(two, one) == pytest.approx(row.difference, abs=5.1e-5)


def test_the_pair_that_hangs_on_the_last_bit():
    row = PAIRS[PAIRS.pair == 14].iloc[0]
    difference = float(delta_e_2000((row.L1, row.a1, row.b1), (row.L2, row.a2, row.b2)))
    assert min(abs(difference - 4.8045), abs(difference - 4.7461)) < 5.1e-5


def test_all_pairs_are_there():
    assert PAIRS.pair.tolist() == list(range(1, 35))
