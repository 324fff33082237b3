"""The sample study from its scans; what was planted in it is written in tests/simulate/strip.py."""

import math
import shutil
from pathlib import Path

import pandas as pd
import pytest

from proofkit.study.run import study
from tests.simulate.strip import WARM_SPEED

SAMPLE = Path(__file__).parents[2] / "sample_scans" / "reed_steps"


@pytest.fixture(scope="module")
def studied(tmp_path_factory):
    folder = tmp_path_factory.mktemp("study") / "reed_steps"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("results", "ledger*"))
    return study(folder)


@pytest.mark.slow
def test_the_warm_bath_is_as_fast_as_was_planted(studied):
    (one,) = (one for one in studied.comparisons if one.response == "line_load_um")
    assert one.speed.speed == pytest.approx(WARM_SPEED, rel=0.1)


@pytest.mark.slow
def test_one_strip_in_each_bath_has_no_interval_and_says_so(studied):
    # Five places of one strip were bitten together, so there is one trial of each bath.
    (one,) = (one for one in studied.comparisons if one.response == "line_load_um")
    assert math.isnan(one.speed.low)
    assert "no interval" in one.remark
    effects = studied.analysis.effects.set_index(["response", "term"])
    assert math.isnan(effects.loc[("line_load_um", "bath: warm"), "low"])
    assert effects.loc[("line_load_um", "time in the bath"), "low"] > 0


@pytest.mark.slow
def test_loads_of_the_steps_are_those_that_were_printed(studied):
    truth = pd.read_csv(SAMPLE / "truth" / "measurements.csv").groupby("region")["line_load_um"].mean()
    read = studied.observations.groupby("region")["line_load_um"].mean()
    assert len(read) == 10
    # The project's bar for loads is 2 % at 600 px/inch and up; these scans have 400.
    assert (read / truth[read.index] - 1).abs().max() < 0.06


@pytest.mark.slow
def test_the_tipped_bath_is_seen_on_every_pull(studied):
    ((_, tilt),) = studied.tilts
    assert tilt.p < 0.05
    assert (tilt.slopes[:, 0] > 0).all()


@pytest.mark.slow
def test_one_place_for_each_time_is_said(studied):
    assert any("one place or plate for each time" in remark for remark in studied.remarks)
    assert studied.left_out == {}


@pytest.mark.slow
def test_between_two_settings_one_step_is_all_that_was_tried(studied):
    effects = studied.analysis.effects.set_index(["response", "term"])
    one = effects.loc[("line_load_um", "bath: warm")]
    assert one["over_range"] == one["estimate"]
    page = studied.page.read_text(encoding="utf-8")
    assert "% against cool; no interval" in page
