"""The section on the order of printing and the table of smallest changes, from tables made by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from proofkit.judgement.power import POWER_COLUMNS
from proofkit.judgement.running_table import COURSE_COLUMNS, RUNNING_COLUMNS
from proofkit.report.page import render
from tests.report import pile
from tests.report.page_reader import read


def words(page):
    return " ".join(page.all("main")[0].text.split())


@pytest.fixture
def ordered(judged):
    """Line load falls over the run and its running mean leaves the limits at the last two pulls."""
    falls = np.linspace(100, 86, len(pile.PULLS))
    running = pd.DataFrame(
        [
            ("line_load_um", pull, value, value + 2, 94.0, 106.0, index >= len(pile.PULLS) - 2)
            for index, (pull, value) in enumerate(zip(pile.PULLS, falls, strict=True))
        ],
        columns=list(RUNNING_COLUMNS),
    )
    said = "line_load_um falls steadily in the order of pulls, -1.0 % at each"
    courses = pd.DataFrame(
        [("line_load_um", "slope", "", -0.01, -0.012, -0.008, -0.14, 1e-4, said)],
        columns=list(COURSE_COLUMNS),
    )
    power = pd.DataFrame(
        [
            ("line_load_um", "sheet", 0.11, "%", 9),
            ("plate_tone_density", "wall", 0.032, "", 9),
            ("bevel_density", "sheet", np.nan, "", 9),
        ],
        columns=list(POWER_COLUMNS),
    )
    return replace(judged, running=running, courses=courses, power=power)


def test_the_run_is_told_and_drawn(measured, ordered):
    page = read(render(measured, ordered, pile.picture))
    text = words(page)
    assert "Line load falls steadily in the order of pulls" in text
    assert "(outside)" in text
    assert "line_load_um" not in text


def test_the_smallest_changes_are_told(measured, ordered):
    text = words(read(render(measured, ordered, pile.picture)))
    assert "11 %" in text
    assert "one region, such as wall" in text
    assert "0.032 D" in text
    assert "larger than was tried" in text


def test_a_short_run_has_no_such_section(measured, judged):
    text = words(read(render(measured, judged, pile.picture)))
    assert "running mean" not in text.lower()
    assert "Smallest change" not in text
