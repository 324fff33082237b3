"""The page stands alone, trusts no text, and can be read without seeing it."""

import base64
import hashlib
import itertools
import json
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from proofkit import columns
from proofkit.errors import ScanError
from proofkit.judgement.types import Judged
from proofkit.report import write_report
from proofkit.report.page import render
from tests.report import pile
from tests.report.page_reader import read


@pytest.fixture(scope="module")
def text(report):
    return report.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def page(text):
    return read(text)


def scripts(page):
    return [s for s in page.all("script") if s.attributes.get("type") != "application/json"]


def words(page, tag="main"):
    return " ".join(page.all(tag)[0].text.split())


def test_text_of_files_never_becomes_markup(page):
    assert len(scripts(page)) == 2
    assert pile.HOSTILE in page.all("h1")[0].text
    assert all(pile.HOSTILE not in script.text for script in page.all("script"))


def test_the_policy_allows_the_two_scripts_and_no_address(page):
    # W3C, Content Security Policy Level 3: a hash source is the base64 SHA-256 of the text of the script.
    policy = next(m for m in page.all("meta") if m.attributes.get("http-equiv") == "Content-Security-Policy")
    rules = dict(rule.strip().split(" ", 1) for rule in policy.attributes["content"].split(";"))
    allowed = set(re.findall(r"'sha256-([^']+)'", rules["script-src"]))
    assert allowed == {
        base64.b64encode(hashlib.sha256(s.text.encode()).digest()).decode() for s in scripts(page)
    }
    assert "unsafe" not in rules["script-src"]
    assert rules["default-src"] == "'none'"
    assert rules["img-src"] == "data:"


def test_nothing_is_loaded_from_elsewhere(page):
    for element in page.elements:
        for name in ("src", "href", "srcset", "action", "poster", "data"):
            assert element.attributes.get(name, "#").startswith(("#", "data:")), element
    (style,) = page.all("style")
    assert "url(" not in style.text
    assert "@import" not in style.text


def test_the_chart_library_is_there_once(text):
    assert 4e6 < len(text) < 12e6
    assert text.count("plotly.js v") == 1


def test_every_figure_is_plain_json(page):
    figures = [s for s in page.all("script") if s.attributes.get("type") == "application/json"]
    assert len(figures) >= 5
    for figure in figures:
        assert set(json.loads(figure.text)) >= {"data", "layout"}


def test_headings_go_down_one_step_at_a_time(page):
    # W3C, WCAG 2.2, technique H42 and success criterion 1.3.1.
    levels = [int(h.tag[1]) for h in page.all("h1", "h2", "h3", "h4")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_pictures_and_tables_can_be_read_aloud(page):
    # W3C, WCAG 2.2, success criteria 1.1.1 and 3.1.1, technique H63 (scope).
    assert page.all("html")[0].attributes["lang"] == "en"
    assert all(image.attributes["alt"] for image in page.all("img"))
    assert all(svg.attributes["role"] == "img" and svg.attributes["aria-label"] for svg in page.all("svg"))
    assert all(head.attributes["scope"] in {"row", "col"} for head in page.all("th"))
    assert all("caption" in {e.tag for e in page.elements if "table" in e.parents} for _ in page.all("table"))
    assert len(page.all("caption")) == len(page.all("table"))


def test_anchors_lead_somewhere(page):
    anchors = {e.attributes["id"] for e in page.elements if "id" in e.attributes}
    links = [a.attributes["href"][1:] for a in page.all("a")]
    assert links
    assert set(links) <= anchors
    assert len(anchors) == sum("id" in e.attributes for e in page.elements)


def test_the_summary_counts_the_pile(page):
    summary = next(p.text for p in page.all("p") if p.attributes.get("class") == "summary")
    for part in (
        "15 pulls",
        "pull 4, the standard",
        "13 others, 11 match",
        "2 ask",
        "pulls 9 and 12",
        "pull 13",
    ):
        assert part in summary


def test_flagged_sheets_come_first_by_distance(page):
    (first,) = [e for e in page.all("ol") if e.attributes.get("class") == "first"]
    assert first.text.index("Pull 9") < first.text.index("Pull 12")
    assert "overwiped? under-inked?" in " ".join(first.text.split())


def test_each_flagged_sheet_has_reason_numbers_and_three_pictures(page, text):
    cards = page.all("article")
    assert len(cards) == 2
    assert "Against under-inked" in cards[0].text
    assert "29.4 ± 0.1 µm" in cards[0].text  # 1000 * 0.05 * 0.94 * 0.62 and its wobble, by construction
    assert text.count('class="mark"') == 2
    assert len([e for e in page.all("image") if "article" in e.parents]) == 6


def test_failures_and_remarks_are_told(page):
    told = words(page)
    assert "breaks off after 41 %" in told
    assert "itself uncertain by about half" in told
    assert "about 0.3 can be expected to be chance alone" in told


def test_words_of_the_page_leave_the_verdict_to_people(page):
    told = " ".join(words(page, tag) for tag in ("header", "nav", "main")).lower()
    assert not re.search(r"\b(reject|score of|passed|failed|pass|fail|bat|ok)\b", told)


def test_provisional_standard_is_said_everywhere(measured, judged):
    page = read(render(replace(measured, is_provisional=True), judged, pile.picture))
    assert "serves as provisional standard" in words(page, "header")
    assert "Provisional standard, pull 4" in words(page)


def test_varied_edition_has_distances_and_no_flags(measured, judged):
    varied = replace(measured, edition=replace(measured.edition, declared="varied"))
    calm = replace(
        judged,
        findings=judged.findings.iloc[:0],
        judgement=judged.judgement.replace({"verdict": {"look again": "matches"}}),
    )
    page = read(render(varied, calm, pile.picture))
    assert "declared varied" in words(page, "header")
    assert page.all("article") == []


def test_an_edition_that_was_not_judged_still_has_its_page(measured, judged):
    bare = replace(
        measured,
        measurements=columns.make_table([], columns.MEASUREMENTS),
        sheets=columns.make_table([], columns.SHEETS),
        histograms={},
        tone_pictures={},
        failures=dict.fromkeys(pile.PULLS, "The file is not an image."),
    )
    limits = judged.limits.iloc[:0]
    nothing = Judged(
        columns.make_table([], columns.FINDINGS), columns.make_table([], columns.JUDGEMENT), limits, 0.0, ()
    )
    page = read(render(bare, nothing, pile.picture))
    assert words(page).count("The file is not an image.") >= len(pile.PULLS)


def test_a_scan_that_has_gone_costs_its_pictures_only(measured, judged):
    def gone(pull, box_mm, px_per_mm):
        raise ScanError("sheet_9.tif is no longer there. Put it back into scans.")

    page = read(render(measured, judged, gone))
    assert words(page).count("No picture: sheet_9.tif is no longer there.") == 2


def test_a_place_outside_the_scan_says_so(measured, judged):
    def empty(pull, box_mm, px_per_mm):
        return np.full((20, 20), np.nan, dtype=np.float32)

    assert "The place lies outside the scan." in words(read(render(measured, judged, empty)))


def test_two_scans_of_a_pull_both_count(measured, judged):
    extra = measured.measurements[measured.measurements["pull"] == "9"].assign(scan="sheet_9b.tif")
    twice = replace(measured, measurements=pd.concat([measured.measurements, extra], ignore_index=True))
    assert len(read(render(twice, judged, pile.picture)).all("article")) == 2


def test_each_scan_is_asked_for_in_one_go(measured, judged):
    asked = []

    def note(pull, box_mm, px_per_mm):
        asked.append(pull)
        return pile.picture(pull, box_mm, px_per_mm)

    render(measured, judged, note)
    changes = [pull for pull, before in zip(asked, [None, *asked], strict=False) if pull != before]
    assert len(changes) == len(set(changes))


def test_writing_replaces_the_page_in_one_step(measured, judged, tmp_path):
    path = tmp_path / "results" / "report.html"
    write_report(measured, judged, pile.picture, path)
    write_report(measured, judged, pile.picture, path)
    assert [file.name for file in path.parent.iterdir()] == ["report.html"]
