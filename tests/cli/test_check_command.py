import pytest

from proofkit.cli import main
from tests.check.conftest import PULLS


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
