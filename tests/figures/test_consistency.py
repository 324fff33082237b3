"""The consistency chart shows each value where it is, the limits, and every finding by shape and word."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from proofkit.figures import consistency
from proofkit.folder.edition import Region
from tests.report import pile


def dots(figure, panel=1):
    axis = "y" if panel == 1 else f"y{panel}"
    return next(
        t for t in figure.data if t.yaxis == axis and t.mode == "markers" and t.error_y.visible is not None
    )


def findings(figure):
    return [trace for trace in figure.data if trace.mode == "markers+text"]


def shapes(figure, kind, panel=1):
    axis = "y" if panel == 1 else f"y{panel}"
    return [shape for shape in figure.layout.shapes if shape.type == kind and shape.yref == axis]


def test_dots_lie_at_their_pull_whatever_the_order_of_rows(measured, judged):
    shuffled = replace(measured, measurements=measured.measurements.sample(frac=1, random_state=5))
    trace = dots(consistency(shuffled, judged, "plate_tone_density", ["sky"]))
    expected = {pile.PULLS.index(p): pile.film(p, "sky") for p in pile.PULLS if p != pile.UNREADABLE}
    assert dict(zip(trace.x, trace.y, strict=True)) == pytest.approx(expected)


def test_limits_and_standard_are_drawn_at_their_values(measured, judged):
    row = judged.limits[
        (judged.limits["region"] == "sky") & (judged.limits["measure"] == "line_load_um")
    ].iloc[0]
    figure = consistency(measured, judged, "line_load_um", ["sky"])
    (band,) = shapes(figure, "rect")
    (line,) = shapes(figure, "line")
    assert (band.y0, band.y1) == (row["lower"], row["upper"])
    assert line.y0 == line.y1 == row["standard_value"]


@pytest.mark.parametrize(
    ("is_trial", "dash", "said"), [(True, "dash", "trial"), (False, "solid", "limits of good")]
)
def test_trial_limits_look_and_read_different(measured, is_trial, dash, said):
    figure = consistency(measured, pile.judged(measured, is_trial=is_trial), "line_load_um", ["sky"])
    assert shapes(figure, "rect")[0].line.dash == dash
    assert any(said in (trace.name or "") for trace in figure.data)


def test_findings_point_down_for_less_and_up_for_more_and_carry_their_word(measured, judged):
    (low,) = findings(consistency(measured, judged, "line_load_um", ["sky"]))
    assert (low.marker.symbol, low.text[0].strip()) == (("triangle-down-open",), "weak")
    (high,) = findings(consistency(measured, judged, "plate_tone_density", ["wall"]))
    assert (high.marker.symbol, high.text[0].strip()) == (("triangle-up-open",), "more plate tone")


def test_a_panel_holds_all_that_it_shows(measured, judged):
    figure = consistency(measured, judged, "plate_tone_density")
    for panel in range(1, 5):
        low, high = figure.layout["yaxis" if panel == 1 else f"yaxis{panel}"].range
        assert low < min(dots(figure, panel).y) < max(dots(figure, panel).y) < high
        assert low < shapes(figure, "rect", panel)[0].y0 < shapes(figure, "rect", panel)[0].y1 < high


def test_regions_without_the_measure_have_no_panel(measured, judged):
    titles = [note.text for note in consistency(measured, judged, "line_load_um").layout.annotations]
    assert "<i>open ground</i>" not in titles
    assert len(titles) == len(pile.LINES)


def test_measures_of_the_sheet_have_one_panel(measured, judged):
    figure = consistency(measured, judged, "misfit_um")
    assert [note.text for note in figure.layout.annotations] == ["<i>whole sheet</i>"]
    assert np.isfinite(dots(figure).y).all()


def test_a_measure_that_is_nowhere_still_gives_a_figure(measured, judged):
    assert consistency(measured, judged, "hollow_index").layout.height > 0


def test_an_unknown_measure_is_a_key_error(measured, judged):
    with pytest.raises(KeyError, match="no_such"):
        consistency(measured, judged, "no_such", ["sky"])


def test_names_from_files_are_shown_as_text(measured, judged):
    name = "<b>sky</b>"
    table = measured.measurements.replace({"region": {"sky": name}})
    regions = (Region(name, "lines", pile.REGIONS[0].outline_mm), *pile.REGIONS[1:])
    figure = consistency(replace(measured, regions=regions, measurements=table), judged, "line_load_um")
    assert figure.layout.annotations[0].text == "<i>&lt;b&gt;sky&lt;/b&gt;</i>"


def test_one_sheet_is_enough(measured, judged):
    alone = replace(measured, measurements=measured.measurements[measured.measurements["pull"] == "1"])
    assert len(dots(consistency(alone, judged, "plate_tone_density", ["sky"])).y) == 1


def test_no_word_stands_over_another_symbol(measured, judged):
    """Words stand towards the middle, or on the other side where they would hide a neighbour there."""
    row = judged.findings[judged.findings["measure"] == "line_load_um"].iloc[[0]]
    away = {"11": 5.0, "12": 9.0, "2": 3.0}
    table = pd.concat([row.assign(pull=pull, deviation=-by, value=40.0) for pull, by in away.items()])
    (trace,) = findings(consistency(measured, replace(judged, findings=table), "line_load_um", ["sky"]))
    assert [text.strip() for text in trace.text] == ["", "weak", "weak"]
    assert list(trace.textposition[1:]) == ["middle right", "middle right"]


def test_words_that_would_run_into_each_other_are_left_out_the_farthest_is_kept(measured, judged):
    row = judged.findings[judged.findings["measure"] == "line_load_um"].iloc[[0]]
    crowd = pd.concat([row.assign(pull=str(n), deviation=-10.0 - n) for n in (7, 8, 9)], ignore_index=True)
    apart = row.assign(pull="15", value=47.0, deviation=-3.0)
    table = pd.concat([crowd, apart], ignore_index=True)
    (trace,) = findings(consistency(measured, replace(judged, findings=table), "line_load_um", ["sky"]))
    assert [text.strip() for text in trace.text] == ["", "", "weak", "weak"]
    assert len(trace.x) == 4
