import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import box

from proofkit.check import check
from proofkit.check.current import fingerprint, is_made_from, mark_made_from, program_digest
from tests.check.test_check import change


@dataclass(frozen=True)
class Thing:
    name: str
    values: object


VALUES = [
    None, True, 1, 1.0, -0.0, 0.0, float("nan"), "1", "", (), (1,), [1], ((1,), 2), (1, (2,)), {"a": 1}, {"a": 2},
    {"b": 1}, Thing("a", 1), Thing("b", 1), box(0, 0, 1, 1), box(0, 0, 1, 2), np.zeros(2), np.zeros(3),
    np.zeros(2, np.float32), np.zeros((2, 1)), pd.DataFrame({"a": [1.0]}), pd.DataFrame({"b": [1.0]}),
    pd.DataFrame({"a": [2.0]}), pd.DataFrame({"a": ["x"]}), pd.DataFrame({"a": ["y"]}), Path("1"),
]  # fmt: skip


def test_different_values_have_different_fingerprints():
    prints = [fingerprint(value) for value in VALUES]
    assert len(set(prints)) == len(VALUES)
    assert prints == [fingerprint(value) for value in VALUES]
    assert fingerprint("ab", "c") != fingerprint("a", "bc")


def test_what_has_no_fingerprint_is_refused():
    with pytest.raises(TypeError, match="object"):
        fingerprint((1, object()))


def test_a_fingerprint_is_the_same_in_another_process():
    said = subprocess.run(
        [sys.executable, "-c", "from proofkit.check.current import *; print(fingerprint({'a': {'x', 'y', 'z'}}))"],
        capture_output=True, text=True, check=True, env={"PYTHONHASHSEED": "7"}, cwd=Path(__file__).parents[2],
    ).stdout.strip()  # fmt: skip
    assert said == fingerprint({"a": {"x", "y", "z"}})


def test_a_report_knows_what_it_was_made_from(tmp_path):
    report = tmp_path / "report.html"
    assert not is_made_from(report, "a" * 64)
    report.write_text("")
    assert not is_made_from(report, "a" * 64)
    mark_made_from(report, "a" * 64)
    assert is_made_from(report, "a" * 64)
    assert not is_made_from(report, "b" * 64)
    assert len(program_digest()) == 64


def test_an_unchanged_edition_keeps_its_report(checked):
    report = check(checked).report
    before = report.stat().st_mtime_ns
    check(checked)
    assert report.stat().st_mtime_ns == before


def test_a_report_is_made_again_when_a_word_of_it_changed(checked):
    check(checked)
    change(checked / "edition.toml", "Trial passages", "Other passages")
    assert "Other passages" in check(checked).report.read_text(encoding="utf-8")
