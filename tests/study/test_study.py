"""A study from its folder to the write-up; responses measured by hand, so that no scan is needed."""

import csv
import hashlib
import json
import re

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from proofkit.cli import main
from proofkit.cli.study import study_lines
from proofkit.study.run import study
from proofkit.study.writeup import finding

STUDY = """\
question = "Does a warm bath bite deeper & <faster>?"
responses = ["depth_um"]
relative = ["depth_um"]
[factors.bite_min]
scale = "log"
label = "time in the bath"
[factors.bath]
reference = "cool"
[step_bite]
time = "bite_min"
bath = "bath"
[methods]
plate = "copper, 1.2 mm"
tool = "hard ground, ferric chloride"
"""


def make_study(folder, speed=1.4):
    """Three strips, each in a bath of its own, in each of two kinds; depth goes with the root of time."""
    rng = np.random.default_rng(0)
    rows = ["bite_min,bath,batch,depth_um"]
    for bath, factor in (("cool", 1.0), ("warm", speed)):
        for strip in range(3):
            rows += [
                f"{t},{bath},{bath} {strip},{8 * (t * factor) ** 0.5 * np.exp(rng.normal(0, 0.04)):.3f}"
                for t in (2, 4, 8, 16, 32)
            ]
    (folder / "experiment.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")


@pytest.fixture(scope="module")
def studied(tmp_path_factory):
    folder = tmp_path_factory.mktemp("warm_bath")
    make_study(folder)
    return study(folder)


def test_planted_effects_lie_inside_their_intervals(studied):
    of = studied.analysis.effects.set_index("term")
    # The root of time: a doubling makes it 2^0.5; a bath 1.4 times as fast makes it 1.4^0.5.
    for term, truth in (("time in the bath", 2**0.5 - 1), ("bath: warm", 1.4**0.5 - 1)):
        assert of.loc[term, "low"] <= truth <= of.loc[term, "high"]
    (speed,) = (one.speed for one in studied.comparisons)
    assert speed.low <= 1.4 <= speed.high
    assert [strip.bath for strip in studied.strips] == ["cool", "warm"]
    assert studied.strips[0].power.exponent.low <= 0.5 <= studied.strips[0].power.exponent.high


def test_the_write_up_tells_question_findings_methods_and_what_is_not_recorded(studied):
    page = studied.page.read_text(encoding="utf-8")
    assert "Does a warm bath bite deeper &amp; &lt;faster&gt;?" in page
    assert "warm gets to the same depth" in page
    assert "Plate (metal, gauge, size, facing): copper, 1.2 mm." in page
    assert re.search(r"Not recorded: .*ink \(pigment", page)
    assert "Ferric chloride is corrosive" in page
    assert "safety data sheets" in page
    for ending, begin in ((".md", "*Technique study*"), (".tex", r"\documentclass")):
        text = studied.page.with_suffix(ending).read_text(encoding="utf-8")
        assert text.startswith(begin)
        assert "copper, 1.2 mm" in text


def test_effects_have_one_unit_at_the_prompt_and_on_the_page(studied):
    # A doubling makes the root of time 2^0.5, by 41.4 %; the estimate is held to its interval above.
    estimate = studied.analysis.effects.set_index("term").loc["time in the bath", "estimate"]
    told = f"{100 * estimate:.1f}"
    (line,) = (line for line in study_lines(studied) if "time in the bath" in line)
    assert line.split()[:2] == ["depth_um", "%"]
    assert f" {told} " in line
    page = studied.page.with_suffix(".md").read_text(encoding="utf-8")
    assert re.search(rf"\| depth\\_um \| % \|.*time in the bath.*\| {told} \|", page)


def test_every_figure_is_there_in_three_formats(studied):
    assert len(studied.figures) == 3
    for stem in studied.figures.values():
        assert stem.with_suffix(".svg").read_bytes().startswith(b"<?xml")
        assert stem.with_suffix(".pdf").read_bytes().startswith(b"%PDF")
        with Image.open(stem.with_suffix(".png")) as picture:
            assert picture.width > 1000
    page = studied.page.read_text(encoding="utf-8")
    assert page.count("<svg") == 3
    assert not re.search(
        r'(?:src|href)="(?:https?:|/)', page.replace('xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    )


def test_figures_are_the_same_when_they_are_drawn_again(studied, tmp_path):
    make_study(tmp_path)
    again = study(tmp_path)
    for caption, stem in studied.figures.items():
        for ending in (".svg", ".pdf", ".png"):
            assert (
                again.figures[caption].with_suffix(ending).read_bytes()
                == stem.with_suffix(ending).read_bytes()
            )


def test_the_package_keeps_to_the_data_package_standard(studied):
    # Frictionless Data, Data Package and Tabular Data Package, version 1: required properties, names, types of fields.
    data = studied.page.parent / "data"
    package = json.loads((data / "datapackage.json").read_text(encoding="utf-8"))
    assert package["profile"] == "tabular-data-package"
    assert re.fullmatch(r"[-a-z0-9._/]+", package["name"])
    assert package["resources"]
    for resource in package["resources"]:
        assert re.fullmatch(r"[-a-z0-9._/]+", resource["name"])
        raw = (data / resource["path"]).read_bytes()
        assert resource["bytes"] == len(raw)
        assert resource["hash"] == f"sha256:{hashlib.sha256(raw).hexdigest()}"
        fields = resource["schema"]["fields"]
        assert all(
            field["type"] in {"string", "number", "boolean"} and field["description"] for field in fields
        )
        rows = list(csv.reader(raw.decode("utf-8").splitlines()))
        assert rows[0] == [field["name"] for field in fields]
        for row in rows[1:]:
            for cell, field in zip(row, fields, strict=True):
                assert field["type"] != "number" or cell == "" or np.isfinite(float(cell))


def test_csv_and_parquet_say_the_same(studied):
    data = studied.page.parent / "data"
    for path in data.glob("*.csv"):
        table = pd.read_parquet(path.with_suffix(".parquet"))
        numbers = [name for name in table if table[name].dtype == float]
        words = dict.fromkeys(set(table) - set(numbers), str)
        text = pd.read_csv(
            path, dtype=words, keep_default_na=False, na_values={name: [""] for name in numbers}
        )
        pd.testing.assert_frame_equal(text.astype(table.dtypes.to_dict()), table)


def test_the_command_says_what_was_found(tmp_path, capsys):
    make_study(tmp_path)
    assert main(["study", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "time in the bath  per doubling" in said
    assert "warm against cool, depth_um" in said
    assert "write_up.html" in said


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        (
            "study.toml",
            'responses = ["colour"]',
            "response 'colour' is neither a column of experiment.csv nor a measure",
        ),
        ("study.toml", 'responses = ["depth_um"]\nrelative = ["width_um"]', "relative names 'width_um'"),
        ("study.toml", 'responses = ["depth_um"]\ninteractions = ["bath:ink"]', "interactions names 'ink'"),
        ("study.toml", 'responses = ["depth_um"]\n[factors.ink]\nunit = "g"', "factors names 'ink'"),
        (
            "study.toml",
            'responses = ["depth_um"]\n[step_bite]\ntime = "minutes"',
            "step_bite names 'minutes'",
        ),
        ("study.toml", 'responses = ["line_load_um"]', "no column pull, plate or region"),
        ("experiment.csv", "bite_min,bath,depth_um\n2,cool,3\n2,cool,4\n", "no factor that varies"),
        ("experiment.csv", "bite_min,bath,depth_um\n-2,cool,3\n4,warm,4\n", "a time is never negative"),
        ("experiment.csv", "bite_min,bath,depth_um\n2 min,cool,3\n4,warm,4\n", "the others are numbers"),
    ],
)
def test_what_cannot_be_asked_is_said_in_one_line(tmp_path, capsys, name, text, told):
    make_study(tmp_path)
    (tmp_path / name).write_text(text, encoding="utf-8")
    assert main(["study", str(tmp_path)]) == 1
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1
    assert not (tmp_path / "results" / "study" / "write_up.html").exists()


def test_as_many_settings_as_rows_end_with_words_and_no_effects(tmp_path):
    make_study(tmp_path)
    (tmp_path / "experiment.csv").write_text("bite_min,bath,depth_um\n2,cool,3\n4,warm,4\n", encoding="utf-8")
    found = study(tmp_path)
    assert found.analysis.effects.empty
    assert any("always go together" in remark for remark in found.remarks)
    assert "Nothing could be fitted" in found.page.read_text(encoding="utf-8")
    assert not any(line.startswith("response") for line in study_lines(found))


def test_a_size_that_cannot_be_told_is_left_out_of_the_sentence():
    row = {"response": "depth_um", "region": "all", "term": "bath: warm", "step": "against cool", "estimate": 2.0,
           "low": np.nan, "high": np.nan, "over_range": 2.0, "effect_sd": np.nan, "p_value": np.nan,
           "q_value": np.nan, "detectable": np.nan, "unit": "µm", "remark": "one bath"}  # fmt: skip
    assert finding(row) == "Depth, bath: warm: 2.00 µm against cool; no interval: one bath."
    sure = row | {"low": 1.0, "high": 3.0, "p_value": 0.01, "q_value": 0.02, "over_range": 4.0}
    assert finding(sure) == (
        "Depth, bath: warm: 2.00 µm against cool (95 %: 1.00 to 3.00); over all that was tried 4.00 µm; "
        "p 0.010, q 0.020."
    )
