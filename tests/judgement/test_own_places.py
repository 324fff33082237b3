"""Single places of a sheet become a verdict when chance does not explain their number."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from proofkit.columns import FINDINGS, JUDGEMENT, PLACES, make_table
from proofkit.judgement.limits import LIMIT_COLUMNS
from proofkit.judgement.own_places import MEASURE, largest_rate, with_places
from proofkit.judgement.types import Judged

PULLS = [str(k) for k in range(1, 21)]


def judged(flagged=()):
    rows = [
        {
            "pull": pull,
            "verdict": "standard" if pull == "1" else "look again" if pull in flagged else "matches",
            "causes": "overwiped" if pull in flagged else "",
            "regions": "sky" if pull in flagged else "",
            "reason": "Said before.",
        }
        for pull in PULLS
    ]
    limits = pd.DataFrame([dict.fromkeys(LIMIT_COLUMNS, 0.0)])
    return Judged(make_table([], FINDINGS), make_table(rows, JUDGEMENT), limits, 0.0, ())


def places(counts, *, recurs_on=0.0, length_mm=0.5, ink_change=0.6):
    rows = [
        {"pull": pull, "kind": "dark speck", "regions": "sky", "x_mm": 3.0 + k, "y_mm": 4.0,
         "length_mm": length_mm, "breadth_mm": 0.4, "direction_deg": 0.0, "ink_change": ink_change, "spreads": 12.0,
         "recurs_on": recurs_on}
        for pull, count in counts.items() for k in range(count)
    ]  # fmt: skip
    return make_table(rows, PLACES)


def verdicts(found):
    return dict(zip(found.judgement["pull"], found.judgement["verdict"], strict=True))


def test_a_sheet_full_of_specks_asks_for_a_look():
    found = with_places(judged(), places({"7": 8, "3": 1}))
    said = verdicts(found)
    assert said.pop("7") == "look again"
    assert "look again" not in said.values()
    (row,) = found.judgement.loc[found.judgement["pull"] == "7"].to_dict("records")
    assert row["causes"] == "specks"
    assert row["regions"] == "sky"
    assert "8, the longest a dark speck of 0.5 mm" in row["reason"]
    (finding,) = found.findings.to_dict("records")
    assert (finding["measure"], finding["value"], finding["direction"]) == (MEASURE, 8, "higher")
    assert finding["q_value"] == pytest.approx(19 * stats.poisson.sf(7, np.log(2)))
    assert list(found.judgement.dtypes) == list(judged().judgement.dtypes)


def test_bare_marks_speak_of_dry_paper():
    found = with_places(judged(), places({"7": 8, "3": 1}, ink_change=-0.3)).judgement
    (row,) = found.loc[found["pull"] == "7"].to_dict("records")
    assert row["causes"] == "dry paper; specks"
    assert "8 of them are bare" in row["reason"]


def test_a_sheet_that_leaves_the_standard_keeps_its_verdict():
    before = judged(flagged=["9"])
    after = with_places(before, places({"9": 8}))
    pd.testing.assert_frame_equal(after.judgement, before.judgement)
    assert after.findings.empty


@pytest.mark.parametrize(
    "seen",
    [
        places({"7": 2}),
        places({"7": 8}, recurs_on=3.0),
        places({"7": 8}, length_mm=0.2),
        places(dict.fromkeys(PULLS, 8)),
        places({"1": 12}),
        places({}),
    ],
    ids=["two of them", "of the plate", "small", "as all others", "on the standard", "none"],
)
def test_other_places_change_no_verdict(seen):
    before = judged(flagged=["4"])
    after = with_places(before, seen)
    pd.testing.assert_frame_equal(after.judgement, before.judgement)
    assert after.findings.empty


def test_sound_piles_are_seldom_flagged():
    chance = np.random.default_rng(11)
    flagged = sum(
        "look again"
        in verdicts(with_places(judged(), places(dict(zip(PULLS, counts, strict=True))))).values()
        for counts in chance.poisson(0.6, (200, len(PULLS)))
    )
    assert flagged <= 0.05 * 200 + 2.6 * np.sqrt(0.05 * 0.95 * 200)


def test_the_rate_is_the_largest_with_this_median():
    rate = largest_rate(np.array([2.0, 2.0, 3.0]))
    assert stats.poisson.cdf(2, rate) == pytest.approx(0.5)


def test_a_pile_that_scatters_by_more_than_poisson_flags_no_burr():
    burr = dict(zip(PULLS, (0, 1, 0, 3, 6, 0, 2, 9, 4, 0, 1, 7, 5, 0, 15, 2, 11, 3, 0, 8), strict=True))
    assert "look again" not in verdicts(with_places(judged(), places(burr))).values()
    assert "look again" in verdicts(with_places(judged(), places(burr | {"3": 60}))).values()
