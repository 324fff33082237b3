"""What the judgement says of its own limits."""

from dataclasses import replace

import numpy as np
import pandas as pd

from proofkit.folder.edition import Tolerance
from proofkit.judgement.judge import judge
from proofkit.quality import Quality, words
from tests.judgement.press import print_edition


def test_a_tolerance_that_good_pulls_cannot_meet_is_told():
    tight = [Tolerance("sky", "plate_tone_density", 0.001)]
    said = judge(print_edition([None] * 10, seed=51, tolerances=tight, pictures=False)).remarks
    assert any("0.001" in remark and "less than good pulls differ by" in remark for remark in said)


def test_a_tolerance_of_what_is_not_measured_there_is_told():
    # Open ground has no lines.
    nowhere = [Tolerance("meadow", "line_load_um", 5.0)]
    said = judge(print_edition([None] * 10, seed=51, tolerances=nowhere, pictures=False)).remarks
    assert any("line_load_um has nothing to judge" in remark for remark in said)


def test_expected_chance_is_told_for_findings_and_sheets():
    judged = judge(print_edition(["underwiped", "overwiped", *[None] * 10], seed=52, pictures=False))
    said = judged.remarks[-1]
    assert f"{len(judged.findings)} findings" in said
    assert "expected to be chance" in said
    assert "sheets are flagged, of which at most" in said


def test_regions_that_could_not_be_compared_are_named():
    measured = print_edition([None] * 8, seed=53, pictures=False)
    table = measured.measurements.copy()
    cut = (table["pull"] == "6") & (table["region"] == "sky")
    table.loc[cut, "quality"] = words(Quality.OUTSIDE_SHEET)
    numbers = table.select_dtypes("number").columns
    table.loc[cut, numbers] = np.nan
    table = table[(table["pull"] != "7") | (table["region"] != "mill")]
    reasons = judge(replace(measured, measurements=table)).judgement.set_index("pull")["reason"]
    assert "'sky' (outside sheet)" in reasons["6"]
    assert "'mill' (not measured)" in reasons["7"]
    assert "Not compared" not in reasons["8"]


def test_everything_missing_in_a_region_leaves_the_rest_to_be_judged():
    measured = print_edition(["underwiped", *[None] * 10], seed=54, pictures=False)
    table = measured.measurements.copy()
    table.loc[table["region"] == "sky", table.select_dtypes("number").columns] = np.nan
    judged = judge(replace(measured, measurements=table))
    assert judged.judgement.set_index("pull")["verdict"]["5"] == "look again"
    assert "sky" not in set(judged.limits["region"])


def test_constant_measures_are_said_and_judged_by_their_floor():
    measured = print_edition([None] * 10, seed=55, pictures=False)
    table = measured.measurements.copy()
    table["streak_density"] = 0.003
    judged = judge(replace(measured, measurements=table))
    assert any("do not vary at all" in remark and "streak_density" in remark for remark in judged.remarks)
    assert not judged.findings["measure"].eq("streak_density").any()


def test_a_pull_given_twice_counts_once():
    measured = print_edition([None] * 10, seed=56, pictures=False)
    twice = replace(measured.edition, pulls=(*measured.edition.pulls, measured.edition.pulls[5]))
    judged = judge(replace(measured, edition=twice))
    pd.testing.assert_frame_equal(judged.judgement, judge(measured).judgement)
