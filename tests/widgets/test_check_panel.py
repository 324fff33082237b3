"""The panel shows what was found, says in a sentence what is wrong, and trusts no text."""

from dataclasses import replace

import pytest

from proofkit.check import CheckResult, check
from proofkit.errors import FolderError
from proofkit.widgets import check_panel
from proofkit.widgets.state import (
    CheckState,
    choose,
    measures_of,
    open_folder,
    start_check,
    stop_check,
    take_result,
)
from proofkit.widgets.views import PLOTLY_TYPE, beside, notice, verdicts
from tests.report import pile


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """What a check of the pile of fifteen would hand on."""
    folder = tmp_path_factory.mktemp("edition")
    measured = pile.measured(folder)
    return CheckResult(
        measured, pile.judged(measured), measured.failures, 14, folder / "report.html", pile.picture
    )


@pytest.fixture
def edition(tmp_path):
    """A folder that can be opened: two scans that are named but never read."""
    folder = tmp_path / "quarry"
    (folder / "scans").mkdir(parents=True)
    for name in ("a.tif", "b.tif"):
        (folder / "scans" / name).touch()
    (folder / "edition.toml").write_text('title = "Quarry"\nstandard = "1"\n', encoding="utf-8")
    (folder / "pulls.csv").write_text("pull,scan\n1,a.tif\n2,b.tif\n", encoding="utf-8")
    return folder


def test_an_opened_edition_offers_its_pulls_as_standard(edition):
    panel = check_panel(edition)
    assert [label for label, _ in panel.standard.options] == ["as edition.toml says", "pull 1", "pull 2"]
    assert not panel.start.disabled
    assert panel.looking.layout.display == "none"


def test_a_folder_that_is_none_is_told_in_a_sentence(tmp_path):
    panel = check_panel(tmp_path / "nowhere")
    assert "does not exist" in panel.notice.value
    assert panel.start.disabled
    assert panel.run() is None
    assert "No edition is open" in panel.notice.value


def test_a_mended_folder_name_clears_the_notice(edition, tmp_path):
    panel = check_panel(tmp_path / "nowhere")
    panel.folder.value = str(edition)
    assert "does not exist" not in panel.notice.value
    assert not panel.start.disabled


def test_scans_that_cannot_be_read_end_in_a_sentence_and_a_live_button(edition):
    panel = check_panel(edition)
    assert panel.run() is None
    assert "a.tif" in panel.notice.value
    assert not panel.start.disabled
    assert panel.progress.value == ""


def test_another_standard_is_tried_without_writing_it_down(edition):
    before = (edition / "edition.toml").read_bytes()
    panel = check_panel(edition)
    panel.standard.value = "2"
    panel.run()
    assert "b.tif" in panel.notice.value
    assert (edition / "edition.toml").read_bytes() == before


def test_a_standard_that_is_no_pull_is_refused(edition):
    with pytest.raises(FolderError, match="pull '7', which is not in the edition"):
        check(edition, standard="7")


def test_a_result_fills_the_panel(result, edition):
    panel = check_panel(edition)
    assert panel.store.run(take_result, result)
    assert panel.result is result
    assert panel.looking.layout.display == ""
    assert panel.pull.value == pile.OVERWIPED
    assert "overwiped" in panel.verdicts.value
    assert "2 mm of plate" in panel.beside.value
    (output,) = panel.chart.outputs
    assert output["data"][PLOTLY_TYPE]["layout"]["title"]["text"] == "Line load"


def test_choosing_redraws_what_it_concerns_only(result, edition):
    panel = check_panel(edition)
    panel.store.run(take_result, result)
    card = panel.beside.value
    panel.measure.value = "plate_tone_density"
    (output,) = panel.chart.outputs
    assert output["data"][PLOTLY_TYPE]["layout"]["title"]["text"] == "Plate tone"
    assert "open ground" in [choice for _, choice in panel.region.options]
    assert panel.beside.value == card


def test_a_region_without_the_measure_gives_way_to_all(result):
    state = choose(take_result(CheckState(), result), measure="plate_tone_density", region="open ground")
    assert state.region == "open ground"
    assert choose(state, measure="line_load_um").region == ""


def test_measures_with_findings_come_first(result):
    assert set(measures_of(result)[:3]) == {"line_load_um", "plate_tone_density", "tone_fraction"}


def test_a_running_check_cannot_be_started_again(edition):
    panel = check_panel(edition)
    panel.store.run(start_check)
    assert panel.start.disabled
    assert panel.folder.disabled
    panel.store.run(stop_check, "The ledger is locked.")
    assert not panel.start.disabled


def test_text_of_files_never_becomes_markup(result):
    state = take_result(CheckState(), result)
    hostile = replace(state, pull=pile.UNREADABLE, notice=pile.HOSTILE)
    for text in (verdicts(hostile), beside(hostile), notice(hostile), beside(state)):
        assert "<script" not in text
    assert "&lt;script&gt;" in notice(hostile)


def test_the_standard_is_not_laid_beside_itself(result):
    state = replace(take_result(CheckState(), result), pull=pile.STANDARD)
    assert beside(state) == "<p>This is the standard itself.</p>"


def test_another_edition_forgets_the_last_result(result, edition):
    state = open_folder(take_result(CheckState(), result), edition)
    assert state.result is None
    assert state.pulls == ("1", "2")
