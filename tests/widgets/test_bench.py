"""The bench shows what was found, says in a sentence what is wrong, and trusts no text."""

from dataclasses import replace

import pytest

from proofkit.check import check
from proofkit.errors import FolderError
from proofkit.ledger.deciding import read_decisions
from proofkit.widgets import bench
from proofkit.widgets.bench import heading
from proofkit.widgets.causes_panel import card_of
from proofkit.widgets.chart_panel import PLOTLY_TYPE
from proofkit.widgets.controls import words
from proofkit.widgets.decision_panel import entries_html
from proofkit.widgets.proof_drawer import cards_of
from proofkit.widgets.state import (
    BenchState,
    choose,
    end_work,
    measures_of,
    open_folder,
    start_work,
    take_result,
)
from proofkit.widgets.work import Places
from tests.report import pile


def test_an_opened_edition_offers_its_pulls_as_standard(edition):
    panel = bench(edition)
    assert [label for label, _ in panel.standard.options] == ["as edition.toml says", "pull 1", "pull 2"]
    assert not panel.start.disabled
    assert panel.title.value == '<p class="title">Quarry</p>'
    assert panel.drawer.current == "1"


def test_a_folder_that_is_none_is_told_in_a_sentence(tmp_path):
    panel = bench(tmp_path / "nowhere")
    assert "does not exist" in panel.notice.value
    assert panel.start.disabled
    assert panel.run() is None
    assert "No edition is open" in panel.notice.value


def test_a_mended_folder_name_clears_the_notice(edition, tmp_path):
    panel = bench(tmp_path / "nowhere")
    panel.folder.value = str(edition)
    assert "does not exist" not in panel.notice.value
    assert not panel.start.disabled


def test_scans_that_cannot_be_read_end_in_a_sentence_and_a_live_button(edition):
    panel = bench(edition)
    assert panel.run() is None
    assert "a.tif" in panel.notice.value
    assert not panel.start.disabled
    assert panel.progress.value == ""


def test_another_standard_is_tried_without_writing_it_down(edition):
    before = (edition / "edition.toml").read_bytes()
    panel = bench(edition)
    panel.standard.value = "2"
    panel.run()
    assert "b.tif" in panel.notice.value
    assert (edition / "edition.toml").read_bytes() == before


def test_a_standard_that_is_no_pull_is_refused(edition):
    with pytest.raises(FolderError, match="pull '7', which is not in the edition"):
        check(edition, standard="7")


def test_a_result_fills_the_panels(result, edition):
    panel = bench(edition)
    assert panel.store.run(take_result, result)
    assert panel.result is result
    assert panel.drawer.current == pile.OVERWIPED
    assert "overwiped" in card_of(panel.store.state, Places())
    rows = {row["id"]: row for row in panel.table.table.rows}
    assert len(rows) == 15
    (output,) = panel.consistency.chart.outputs
    assert output["data"][PLOTLY_TYPE]["layout"]["title"]["text"] == "Line load"
    assert panel.consistency.points.current == pile.OVERWIPED


def test_choosing_a_measure_redraws_charts_and_table(result, edition):
    panel = bench(edition)
    panel.store.run(take_result, result)
    panel.table.measure.value = "plate_tone_density"
    (output,) = panel.consistency.chart.outputs
    assert output["data"][PLOTLY_TYPE]["layout"]["title"]["text"] == "Plate tone"
    assert "open ground" in [choice for _, choice in panel.consistency.region.options]
    assert panel.table.table.caption.startswith("Plate tone, D")


def test_the_table_can_be_kept_to_flagged_pulls(result, edition):
    panel = bench(edition)
    panel.store.run(take_result, result)
    panel.table.rows.value = "flagged"
    assert {row["cells"]["verdict"] for row in panel.table.table.rows} == {"look again"}


def test_an_empty_table_says_whether_nothing_was_measured_or_nothing_chosen(result, edition):
    panel = bench(edition)
    assert "Nothing was measured yet" in panel.table.table.nothing
    panel.store.run(take_result, result)
    assert "left by this choice" in panel.table.table.nothing


def test_a_cell_and_a_point_lead_to_their_sheet(result, edition):
    panel = bench(edition)
    panel.store.run(take_result, result)
    panel.table.table._take(panel, {"type": "chosen", "row": "2", "column": "open ground"}, [])
    assert panel.store.state.pull == "2" == panel.drawer.current
    panel.consistency._clicked(panel, {"type": "point", "pull": pile.OVERWIPED, "panel": "x", "row": ""}, [])
    assert panel.store.state.pull == pile.OVERWIPED
    panel.consistency._clicked(panel, {"type": "point", "pull": "no such pull"}, [])
    assert panel.store.state.pull == pile.OVERWIPED


def test_a_region_without_the_measure_gives_way_to_all(result):
    state = choose(take_result(BenchState(), result), measure="plate_tone_density", region="open ground")
    assert state.region == "open ground"
    assert choose(state, measure="line_load_um").region == ""


def test_measures_with_findings_come_first(result):
    assert set(measures_of(result)[:3]) == {"line_load_um", "plate_tone_density", "tone_fraction"}


def test_a_running_check_cannot_be_started_again_but_stopped(edition):
    panel = bench(edition)
    panel.store.run(start_work)
    assert panel.start.disabled
    assert panel.stop.layout.display == ""
    panel.store.run(end_work, "The ledger is locked.")
    assert not panel.start.disabled
    assert panel.stop.layout.display == "none"


def test_text_of_files_never_becomes_markup(result):
    state = take_result(BenchState(), result)
    hostile = replace(state, pull=pile.UNREADABLE, edition=replace(state.edition, title=pile.HOSTILE))
    row = {"decision": "keep", "reason": pile.HOSTILE, "by": "<b>", "at": "2024-01-01T10:00:00+00:00"}
    shown = [card_of(hostile, Places()), card_of(state, Places()), heading(hostile)]
    for text in (*shown, words(pile.HOSTILE), entries_html([row])):
        assert "<script" not in text
    assert "&lt;script&gt;" in entries_html([row])


def test_the_standard_is_not_laid_beside_itself(result):
    state = replace(take_result(BenchState(), result), pull=pile.STANDARD)
    assert "This is the standard itself." in card_of(state, Places())


def test_what_is_wrong_with_a_scan_stands_on_its_card(result, edition):
    state = open_folder(BenchState(), edition)
    cards = cards_of(state, {}, {"2": "Scan 'b.tif' is empty (0 bytes)."})
    assert [card["fault"] for card in cards] == ["", "Scan 'b.tif' is empty (0 bytes)."]
    assert [card["verdict"] for card in cards] == ["standard", ""]
    measured = cards_of(take_result(state, result), {}, {})
    assert next(card["fault"] for card in measured if card["pull"] == pile.UNREADABLE)


def test_another_edition_forgets_the_last_result(result, edition):
    state = open_folder(take_result(BenchState(), result), edition)
    assert state.result is None
    assert state.pulls == ("1", "2")


def test_decisions_are_added_and_taken_back_as_new_entries(edition):
    panel = bench(edition)
    panel.decision.write.click()
    assert "Choose one of keep" in panel.notice.value
    for decision, reason in (("keep", ""), ("second", "a fold at the corner")):
        panel.decision.decision.value, panel.decision.reason.value = decision, reason
        panel.decision.initials.value = "A.L."
        panel.decision.write.click()
    panel.decision.back.click()
    assert "keep by A.L. stands again" in panel.notice.value
    table = read_decisions(edition)
    assert table["decision"].tolist() == ["keep", "second", "taken back"]
    again = bench(edition)  # as after a restart of the kernel
    assert "a fold at the corner" in again.decision.entries.value
    assert [card["decided"] for card in again.drawer.sheets] == ["keep, A.L.", ""]


def test_the_only_decision_can_be_taken_back(edition):
    panel = bench(edition)
    assert panel.decision.back.disabled
    panel.decision.decision.value, panel.decision.initials.value = "spoiled", "A.L."
    panel.decision.write.click()
    assert [card["decided"] for card in panel.drawer.sheets] == ["spoiled, A.L.", ""]
    panel.decision.back.click()
    assert "nothing is decided about it now" in panel.notice.value
    assert [card["decided"] for card in panel.drawer.sheets] == ["", ""]
    assert "No decision stands" in panel.decision.entries.value
    assert panel.decision.back.disabled
    assert read_decisions(edition)["decision"].tolist() == ["spoiled", "taken back"]


def test_the_decision_that_counts_is_marked_among_the_entries():
    rows = [
        {"decision": word, "reason": "", "by": by, "at": "2024-01-01T10:00:00+00:00"}
        for word, by in (("keep", "A"), ("second", "B"), ("taken back", "B"))
    ]
    shown = entries_html(rows).split("<li")
    assert [("aria-current" in item, item.split("</")[0][-4:]) for item in shown[1:]] == [
        (False, "back"), (False, "cond"), (True, "keep"),
    ]  # fmt: skip


def test_a_decision_without_initials_is_refused(edition):
    panel = bench(edition)
    panel.decision.decision.value = "spoiled"
    panel.decision.write.click()
    assert "initials" in panel.notice.value
    assert read_decisions(edition).empty


def test_the_pull_log_is_written_and_refuses_what_cannot_be(edition):
    panel = bench(edition)
    log = panel.pull_log.table
    log._take(log, {"type": "written", "row": "2", "column": "soak_min", "value": "30,0"}, [])
    assert {row["id"]: row["cells"].get("soak_min") for row in log.rows} == {"1": None, "2": "30"}
    log._take(log, {"type": "written", "row": "2", "column": "soak_min", "value": "-5"}, [])
    assert "soak_min is '-5' min" in panel.store.state.notice
    assert "-5" not in (edition / "pull_log.csv").read_text(encoding="utf-8")
    (edition / "pull_log.csv").write_text("pull,note\n2,by hand\n", encoding="utf-8")
    log._take(log, {"type": "written", "row": "2", "column": "note", "value": "mine"}, [])
    assert "pull_log.csv was changed outside the bench" in panel.notice.value
    assert "by hand" in (edition / "pull_log.csv").read_text(encoding="utf-8")
