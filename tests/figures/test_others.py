"""Tone distributions, the map of deviations, and stretch against numbers known by construction."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.edition import HISTOGRAM_BINS, HISTOGRAM_START_DENSITY, HISTOGRAM_STEP_DENSITY
from proofkit.figures import deviation_map, stretch_and_misfit, tone_distributions
from tests.report import pile


def test_shares_of_a_region_sum_to_all_of_it(measured):
    figure = tone_distributions(measured, "wall", ["9", "12"])
    assert len(figure.data) == 4
    for trace in figure.data:
        assert np.square(trace.y).sum() == pytest.approx(100)


def test_a_single_density_stands_at_its_density(measured):
    counts = [0] * HISTOGRAM_BINS
    counts[round((0.50 - HISTOGRAM_START_DENSITY) / HISTOGRAM_STEP_DENSITY)] = 1000
    figure = tone_distributions(
        replace(measured, histograms={("4", "sky"): counts, ("9", "sky"): counts}), "sky", ["9"]
    )
    place = int(np.argmax(figure.data[1].y))
    assert figure.data[1].x[place] == pytest.approx(0.5, abs=0.011)
    assert figure.layout.xaxis.range[1] > 0.5


def test_the_standard_is_not_drawn_over_itself_and_unmeasured_pulls_are_left_out(measured):
    figure = tone_distributions(measured, "sky", [pile.STANDARD, pile.UNREADABLE, "9"])
    assert len(figure.data) == 2


def test_no_pull_to_show_gives_an_empty_figure(measured):
    assert len(tone_distributions(measured, "sky", []).data) == 0


def test_the_map_counts_in_spreads_of_the_limits(measured, judged):
    figure = deviation_map(judged, measured, ["plate_tone_density"])
    (block,) = figure.data
    row = judged.limits[
        (judged.limits["region"] == "wall") & (judged.limits["measure"] == "plate_tone_density")
    ].iloc[0]
    expected = (pile.film("12", "wall") - row["centre"]) / row["spread"]
    z = np.array(block.z)[list(block.y).index("wall")]
    assert z[pile.PULLS.index("12")] == pytest.approx(expected)
    assert np.isnan(z[pile.PULLS.index(pile.UNREADABLE)])


def test_findings_are_bold_and_far_cells_carry_their_sign(measured, judged):
    (block,) = deviation_map(judged, measured, ["plate_tone_density"]).data
    text = {
        (region, pull): t
        for region, r in zip(block.y, block.text, strict=True)
        for pull, t in zip(pile.PULLS, r, strict=True)
    }
    assert text["wall", "12"].startswith("<b>+")
    assert text["sky", "9"].startswith("<b>−")
    assert text["sky", "5"] == ""


def test_a_map_without_limits_is_empty_but_drawn(measured, judged):
    figure = deviation_map(replace(judged, limits=judged.limits.iloc[:0]), measured)
    assert len(figure.data) == 0


def test_stretch_is_in_per_cent(measured):
    across, down, misfit = stretch_and_misfit(measured.sheets).data
    assert list(across.y) == pytest.approx([100 * (s - 1) for s in measured.sheets["stretch_x"]])
    assert list(down.y) == pytest.approx([100 * (s - 1) for s in measured.sheets["stretch_y"]])
    assert list(misfit.y) == pytest.approx(list(measured.sheets["misfit_um"]))


def test_stretch_of_no_sheet_is_drawn(measured):
    assert stretch_and_misfit(measured.sheets.iloc[:0]).layout.height > 0


def test_stretch_not_measured_leaves_the_axis_finite(measured):
    figure = stretch_and_misfit(measured.sheets.assign(stretch_x=np.nan, stretch_y=np.nan))
    assert np.isfinite(figure.layout.yaxis.range).all()
