import csv
import hashlib
import html
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from proofkit.arrays import FULL_SCALE
from proofkit.check import check
from proofkit.check.measuring import measure_pile
from proofkit.cli import main
from proofkit.columns import FINDINGS, JUDGEMENT, MEASUREMENTS, SHEETS, names
from proofkit.errors import FolderError, FrameError, LedgerError, ProofkitError, ScanError
from proofkit.folder.read import read_edition
from proofkit.ledger.connection import close_ledger, open_ledger
from tests.check.conftest import PULLS
from tests.laying.plates import SHAPE, hand_hatching, lie, pull
from tests.lines.drawn import PAPER_LEVEL
from tests.scan.scan_files import write_tiff

ROOT = Path(__file__).parents[2]
RESULTS = ("measurements", "sheets", "findings", "judgement")


def tables(folder):
    return {name: (folder / "results" / f"{name}.csv").read_bytes() for name in RESULTS}


def scans(folder):
    return {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted((folder / "scans").iterdir())
    }


def measure(folder, **options):
    """Do the first half of a check: everything but judging and writing."""
    ledger = open_ledger(folder / "ledger.sqlite")
    try:
        return measure_pile(
            read_edition(folder), ledger, options.get("workers"), options.get("progress", lambda *_: None)
        )
    finally:
        close_ledger(ledger)


def change(path, old, new):
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))


def test_results_have_the_declared_columns_and_every_sheet_and_region(checked):
    for name, columns in zip(RESULTS, (MEASUREMENTS, SHEETS, FINDINGS, JUDGEMENT), strict=True):
        assert list(pd.read_csv(checked / "results" / f"{name}.csv").columns) == names(columns)
    regions = pd.read_csv(checked / "regions.csv")["name"].tolist()
    measured = pd.read_csv(checked / "results" / "measurements.csv", dtype={"pull": str})
    assert list(zip(measured["pull"], measured["region"], strict=True)) == [
        (p, r) for p in PULLS for r in regions
    ]
    judgement = pd.read_csv(checked / "results" / "judgement.csv", dtype=str)
    assert judgement["pull"].tolist() == list(PULLS)
    assert judgement["verdict"].tolist().count("standard") == 1


def test_a_sheet_that_comes_later_needs_no_new_standard(edition, checked, monkeypatch):
    """Not even while the scans are so young that they are hashed anew; its numbers are those of a check of the whole
    pile; a damaged file in prepared/ is made anew.
    """
    monkeypatch.setattr("proofkit.scan.hashing.SETTLED_S", 1e9)
    whole = (edition / "pulls.csv").read_text()
    lines = whole.splitlines(keepends=True)
    (edition / "pulls.csv").write_text("".join(lines[:-1]))
    assert measure(edition).measured.failures == {}
    (kept,) = (edition / "prepared").iterdir()

    def refuse(*_):
        raise AssertionError("the standard was made again")

    with monkeypatch.context() as patched:
        patched.setattr("proofkit.check.fresh.make_standard", refuse)
        (edition / "pulls.csv").write_text(whole)
        later = measure(edition)
    assert later.new_sheets == 1
    last = later.measured.measurements.query("pull == '5'")
    at_once = pd.read_parquet(checked / "results" / "measurements.parquet").query("pull == '5'")
    assert last["line_load_um"].to_list() == pytest.approx(
        at_once["line_load_um"].to_list(), rel=0, abs=0, nan_ok=True
    )
    kept.write_bytes(kept.read_bytes()[:1000])
    (edition / "ledger.sqlite").unlink()
    (edition / "pulls.csv").write_text("".join(lines[:-1]))
    assert measure(edition).new_sheets == 4
    assert kept.stat().st_size > 1000


def test_with_ledger_and_results_elsewhere_nothing_is_written_to_the_edition(edition, tmp_path):
    def listing():
        return sorted((str(f), f.stat().st_mtime_ns) for f in edition.rglob("*"))

    before = listing()
    (tmp_path / "kept").mkdir()
    check(edition, out=tmp_path / "out", ledger_url=str(tmp_path / "kept" / "ledger.sqlite"))
    assert listing() == before
    assert len(list((tmp_path / "kept" / "prepared").iterdir())) == 1


@pytest.mark.parametrize("name", RESULTS)
def test_csv_and_parquet_hold_the_same_numbers_to_the_last_bit(checked, name):
    parquet = pd.read_parquet(checked / "results" / f"{name}.parquet")
    with (checked / "results" / f"{name}.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))  # and float(): exact readers
    assert len(rows) == len(parquet)
    for column in parquet.columns[parquet.dtypes == "float64"]:
        values = [float(row[column] or "nan") for row in rows]
        np.testing.assert_array_equal(values, parquet[column].to_numpy(), err_msg=column)


def test_scans_are_never_written_to(drawn, checked):
    assert scans(checked) == scans(drawn)


def test_a_second_run_measures_nothing_and_says_the_same(checked):
    before = tables(checked)
    result = check(checked)
    assert result.new_sheets == 0
    assert tables(checked) == before


def test_a_new_run_from_nothing_says_the_same(drawn, checked, edition):
    told = []
    assert check(edition, workers=1, progress=lambda *step: told.append(step)).new_sheets == len(PULLS)
    assert tables(edition) == tables(checked)
    measuring = [(done, total) for what, done, total in told if what == "measuring"]
    assert measuring == [(n, len(PULLS)) for n in range(len(PULLS) + 1)]


def test_a_new_sheet_is_measured_alone(checked):
    ledger = checked / "ledger.sqlite"
    shutil.copyfile(checked / "scans" / "pull_5.tif", checked / "scans" / "pull_6.tif")
    change(checked / "pulls.csv", "\n5,", "\n6,pull_6.tif,,,,,,,,,,,\n5,")
    result = measure(checked)
    # The same picture under another name is the same measurement, and a slip that is told.
    assert result.new_sheets == 0
    assert any("'5'" in remark and "'6'" in remark for remark in result.measured.edition.remarks)
    with (checked / "scans" / "pull_6.tif").open("ab") as file:
        file.write(b"\0\0\0\0")
    result = measure(checked)
    assert result.new_sheets == 1
    assert result.measured.sheets["pull"].tolist() == [*PULLS, "6"]
    with sqlite3.connect(ledger) as plain:
        assert plain.execute("select count(*) from proofkit_sheets").fetchone() == (len(PULLS) + 1,)
    plain.close()


def test_a_renamed_scan_and_a_renumbered_pull_are_known_again(checked):
    (checked / "scans" / "pull_5.tif").rename(checked / "scans" / "last.tif")
    change(checked / "pulls.csv", "\n5,pull_5.tif", "\n7,last.tif")
    result = measure(checked)
    assert result.new_sheets == 0
    assert result.measured.sheets["pull"].tolist() == ["1", "2", "3", "4", "7"]
    assert set(result.measured.measurements.loc[lambda table: table["pull"] == "7", "scan"]) == {"last.tif"}


def test_a_scan_may_lie_in_an_archive_elsewhere(checked, tmp_path):
    with zipfile.ZipFile(tmp_path / "archive.zip", "w") as packed:
        packed.write(checked / "scans" / "pull_5.tif", "pull_5.tif")
    (checked / "scans" / "pull_5.tif").unlink()
    address = f"zip://pull_5.tif::{tmp_path / 'archive.zip'}"
    change(checked / "pulls.csv", "\n5,pull_5.tif", f"\n5,{address}")
    result = measure(checked)
    assert result.new_sheets == 0  # the same content is the same measurement
    assert result.measured.failures == {}
    assert result.measured.sheets["scan"].tolist()[-1] == address


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("regions.csv", "bare ground", "empty ground"),
        ("edition.toml", 'standard = "3"', 'standard = "4"'),
    ],
)
def test_what_changes_the_measuring_makes_all_sheets_new(checked, file, old, new):
    change(checked / file, old, new)
    assert measure(checked).new_sheets == len(PULLS)


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("edition.toml", "Trial passages", "Other passages"),
        ("edition.toml", 'confirming = ["1", "2", "4"]', 'confirming = ["1", "2"]'),
        ("edition.toml", '"white, opaque"\n', '"white, opaque"\n[tolerances]\nline_load_um = 4\n'),
    ],
)
def test_what_only_changes_the_judging_measures_nothing(checked, file, old, new):
    change(checked / file, old, new)
    assert measure(checked).new_sheets == 0


def spoil_empty(path):
    path.write_bytes(b"")


def spoil_text(path):
    path.write_text("no picture\n")


def spoil_half(path):
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])


def spoil_missing(path):
    path.unlink()


def spoil_folder(path):
    path.unlink()
    path.mkdir()


SPOILED = (spoil_empty, spoil_text, spoil_half, spoil_missing, spoil_folder)


@pytest.mark.parametrize("spoil", SPOILED)
def test_a_bad_scan_costs_that_scan_only(checked, spoil):
    before = pd.read_csv(checked / "results" / "measurements.csv", dtype={"pull": str})
    spoil(checked / "scans" / "pull_5.tif")
    result = check(checked)
    assert list(result.failures) == ["5"]
    assert "\n" not in result.failures["5"]
    assert "pull_5.tif" in result.failures["5"]
    after = pd.read_csv(checked / "results" / "measurements.csv", dtype={"pull": str})
    pd.testing.assert_frame_equal(after, before[before["pull"] != "5"])
    assert result.judged.judgement.set_index("pull")["verdict"]["5"] == "not comparable"


def draw_blank(path):
    """Bare paper with the noise of a scanner, and no emboss."""
    noise = np.random.default_rng(3).normal(PAPER_LEVEL, 0.006, SHAPE)
    write_tiff(path, np.rint(noise * FULL_SCALE).astype(np.uint16))


def draw_another_plate(path):
    write_tiff(path, pull(hand_hatching(seed=99), lie()))


@pytest.mark.parametrize(
    ("draw", "word", "reason"),
    [(draw_blank, "blank", "no ink was found"), (draw_another_plate, "other plate", "line work is not that")],
)
def test_a_sheet_that_shows_something_else_has_a_row_and_is_measured_once(
    checked, capsys, draw, word, reason
):
    before = pd.read_csv(checked / "results" / "measurements.csv", dtype={"pull": str})
    path = checked / "scans" / "pull_5.tif"
    draw(path)
    result = check(checked)
    assert list(result.failures) == ["5"]
    assert result.new_sheets == 1
    row = pd.read_csv(checked / "results" / "sheets.csv", dtype={"pull": str}).set_index("pull").loc["5"]
    assert row["scan"] == "pull_5.tif"
    assert row["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert row["ppi_x"] == 400  # as edition.toml says
    assert word in row["quality"].split("; ")
    assert np.isfinite(row["paper_density"])
    assert np.isnan(row["misfit_um"])
    after = pd.read_csv(checked / "results" / "measurements.csv", dtype={"pull": str})
    pd.testing.assert_frame_equal(after, before[before["pull"] != "5"])
    judged = pd.read_csv(checked / "results" / "judgement.csv", dtype=str).set_index("pull").loc["5"]
    assert judged["verdict"] == "not comparable"
    assert reason in judged["reason"]
    assert result.failures["5"] in html.unescape((checked / "results" / "report.html").read_text("utf-8"))
    written = tables(checked)
    assert main(["check", str(checked)]) == 3  # nothing changed: from the ledger
    said = capsys.readouterr().out
    assert f"  5: {result.failures['5']}" in said.splitlines()
    assert tables(checked) == written
    assert check(checked).new_sheets == 0


@pytest.mark.parametrize("spoil", SPOILED)
def test_without_the_standard_nothing_is_done(edition, spoil):
    spoil(edition / "scans" / "pull_3.tif")
    with pytest.raises(ProofkitError, match=r"pull_3\.tif") as caught:
        measure(edition)
    assert "\n" not in str(caught.value)


GIVEN = "plate_width_mm = 40.0\nplate_height_mm = 50.0\n"


@pytest.mark.parametrize(("given", "told"), [(GIVEN, r"40\.0 x 50\.0 mm.* "), ("", "")])
def test_a_standard_without_plate_mark_is_not_taken_for_a_plate_as_large_as_its_scan(edition, given, told):
    draw_blank(edition / "scans" / "pull_3.tif")
    change(edition / "edition.toml", GIVEN, given)
    with pytest.raises(FrameError, match=rf"'3': no plate mark .*{told}.* in pulls\.csv") as caught:
        measure(edition)
    assert "\n" not in str(caught.value)


def test_a_standard_scanned_to_the_size_of_the_plate_may_lack_the_mark(edition):
    draw_blank(edition / "scans" / "pull_3.tif")
    width, height = (pixels / 400 * 25.4 for pixels in SHAPE[::-1])
    change(edition / "edition.toml", GIVEN, f"plate_width_mm = {width:.1f}\nplate_height_mm = {height:.1f}\n")
    measured = measure(edition).measured
    assert "no plate mark" in measured.sheets.set_index("pull")["quality"]["3"]


@pytest.mark.parametrize(
    "given",
    [
        # What scans of 400 ppi show of a plate of 40 x 50 mm when they are taken for 300 ppi: 4/3 of it.
        ("ppi = 400", "ppi = 300", r"53\.\d x 66\.\d mm at 300 x 300 ppi"),
        (
            GIVEN,
            "plate_width_mm = 50.0\nplate_height_mm = 40.0\n",
            r"is 50\.0 x 40\.0 mm.* turn the scan upright",
        ),
        ("ppi = 400", "ppi = 600", r"26\.\d x 33\.\d mm at 600 x 600 ppi"),
    ],
)
def test_a_standard_whose_plate_has_another_size_than_was_measured_is_not_believed(edition, given):
    old, new, told = given
    change(edition / "edition.toml", old, new)
    with pytest.raises(FrameError, match=rf"'3': the plate mark on .*{told}") as caught:
        measure(edition)
    assert "\n" not in str(caught.value)


def test_a_provisional_standard_is_one_with_a_plate_mark(edition):
    for name in ("1", "2"):
        draw_blank(edition / "scans" / f"pull_{name}.tif")
    change(edition / "edition.toml", 'standard = "3"\n', "")
    assert measure(edition).measured.standard == "4"  # the confirming pulls are 1, 2 and 4


def test_without_any_scan_nothing_is_done(edition):
    shutil.rmtree(edition / "scans")
    with pytest.raises(ScanError, match="None of the 5 scans"):
        measure(edition)


def test_proposed_regions_are_written_and_stay(edition):
    (edition / "regions.csv").unlink()
    first = measure(edition)
    assert first.new_sheets == len(PULLS)
    assert all(region.proposed for region in first.measured.regions)
    assert any("proposed" in remark for remark in first.measured.edition.remarks)
    written = pd.read_csv(edition / "regions.csv")
    assert written["name"].str.startswith("proposed ").all()
    assert written["name"].tolist() == [region.name for region in first.measured.regions]
    second = measure(edition)
    assert second.new_sheets == 0
    pd.testing.assert_frame_equal(second.measured.measurements, first.measured.measurements, check_exact=True)


def test_without_a_named_standard_a_provisional_one_serves_and_stays(edition):
    change(edition / "edition.toml", 'standard = "3"\n', "")
    first = measure(edition)
    assert first.measured.is_provisional
    assert first.measured.standard in ("1", "2", "4")  # the confirming pulls
    second = measure(edition)
    assert second.new_sheets == 0
    assert second.measured.standard == first.measured.standard


def test_regions_beside_the_plate_are_left_out_and_told(checked):
    with (checked / "regions.csv").open("a") as file:
        file.write('elsewhere,tone,"POLYGON ((100 100, 120 100, 120 120, 100 100))"\n')
    result = measure(checked)
    assert "elsewhere" not in [region.name for region in result.measured.regions]
    assert any("'elsewhere'" in remark for remark in result.measured.edition.remarks)
    assert result.new_sheets == 0


def test_a_ledger_may_lie_elsewhere(checked, tmp_path):
    (checked / "ledger.sqlite").rename(tmp_path / "studio.sqlite")
    result = check(checked, ledger_url=str(tmp_path / "studio.sqlite"), out=tmp_path / "out")
    assert result.new_sheets == 0
    assert result.report == tmp_path / "out" / "report.html"
    assert result.report.is_file()
    assert not (checked / "ledger.sqlite").exists()


def test_a_ledger_that_is_none_stops_the_work(checked):
    (checked / "ledger.sqlite").write_text("notes\n" * 999)
    with pytest.raises(LedgerError, match=r"ledger\.sqlite"):
        check(checked)


def test_results_that_cannot_be_written_are_told_before_anything_is_measured(edition, tmp_path):
    (tmp_path / "taken").write_text("")
    told = []
    with pytest.raises(FolderError, match="--out"):
        check(edition, out=tmp_path / "taken", progress=lambda *step: told.append(step))
    assert told == []


def test_stopped_by_hand_what_was_measured_is_kept(edition, checked):
    def stop(what, done, total):
        if (what, done) == ("measuring", 2):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        measure(edition, workers=1, progress=stop)
    again = check(edition)
    assert again.new_sheets <= len(PULLS) - 2
    assert tables(edition) == tables(checked)


KILL = """
import os, signal, sys
from proofkit.check import check
from proofkit.check.measuring import measure_pile
def die(what, done, total):
    if (what, done) == ("measuring", 2):
        os.kill(os.getpid(), signal.SIGKILL)
check(sys.argv[1], workers=1, progress=die)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="this system has no SIGKILL")
def test_killed_in_the_middle_the_next_run_goes_on(edition, checked):
    ended = subprocess.run([sys.executable, "-c", KILL, str(edition)], cwd=ROOT, check=False)
    assert ended.returncode == -signal.SIGKILL
    again = check(edition)
    assert again.new_sheets <= len(PULLS) - 2
    assert tables(edition) == tables(checked)
    assert [path.name for path in (edition / "results").iterdir() if re.search(r"\.part$", path.name)] == []


def lines_of(capsys, folder, *more):
    code = main(["check", str(folder), *more])
    said = capsys.readouterr()
    assert said.err == ""
    return code, said.out.splitlines()


def test_a_checked_edition_is_shown_as_plain_text(checked, capsys):
    code, lines = lines_of(capsys, checked)
    assert code == 0
    assert lines[0].split() == ["pull", "verdict", "causes", "regions"]
    assert [line.split()[0] for line in lines[1:6]] == list(PULLS)
    assert f"Report: {checked / 'results' / 'report.html'}" in lines
    assert "0 measured now, 5 taken from the ledger." in lines
    assert not any("\x1b" in line for line in lines)


def test_a_scan_that_could_not_be_compared_ends_with_3_and_is_listed(checked, capsys):
    (checked / "scans" / "pull_5.tif").write_bytes(b"")
    code, lines = lines_of(capsys, checked)
    assert code == 3
    at = lines.index("Could not be compared (1):")
    assert lines[at + 1].startswith("  5: ")
    assert "pull_5.tif" in lines[at + 1]


def test_a_stop_by_hand_is_told_with_how_to_go_on(checked, capsys, monkeypatch):
    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr("proofkit.check.check", stop)
    assert main(["check", str(checked)]) == 130
    assert "run again" in capsys.readouterr().err


@pytest.mark.parametrize("where", ["results", "elsewhere/deep"])
def test_results_go_where_they_are_asked_to(checked, tmp_path, capsys, where):
    code, _ = lines_of(capsys, checked, "--out", str(tmp_path / where))
    assert code == 0
    assert (tmp_path / where / "judgement.csv").is_file()
