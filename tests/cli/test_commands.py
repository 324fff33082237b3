import re
import subprocess
import sys
from pathlib import Path

import pytest

import proofkit
from proofkit.cli import main

ROOT = Path(__file__).parents[2]


def run(capsys, *arguments):
    """Return exit code, standard output and standard error of a command."""
    try:
        code = main([str(argument) for argument in arguments])
    except SystemExit as ended:  # argparse ends so for --help and for wrong arguments
        code = ended.code
    said = capsys.readouterr()
    return code, said.out, said.err


def test_help_names_every_command(capsys):
    code, out, err = run(capsys, "--help")
    assert (code, err) == (0, "")
    assert "start" in out
    assert "check" in out


def test_version_is_that_of_the_package(capsys):
    assert run(capsys, "--version") == (0, f"proofkit {proofkit.__version__}\n", "")


@pytest.mark.parametrize(
    "arguments",
    [
        (),
        ("print",),
        ("check",),
        ("check", "{folder}", "--workers", "0"),
        ("check", "{folder}", "--workers", "many"),
        ("study", "{folder}", "--workers", "0"),
        ("check", "{folder}/nowhere"),
        ("check", "{folder}"),
        ("start", "{folder}"),
        ("start", "{folder}/nowhere"),
        ("choose", "{folder}", "--by", "ab"),
        ("choose", "{folder}", "--again"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line_and_ends_with_1(capsys, tmp_path, arguments):
    code, out, err = run(capsys, *(argument.format(folder=tmp_path) for argument in arguments))
    assert code == 1
    assert out == ""
    assert err.startswith("proofkit: ")
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_start_says_what_it_wrote_and_does_it_once(capsys, tmp_path):
    (tmp_path / "scans").mkdir()
    (tmp_path / "scans" / "1.tif").write_bytes(b"II*\0")
    code, out, _ = run(capsys, "start", tmp_path)
    assert code == 0
    assert "edition.toml" in out
    assert "pulls.csv" in out
    code, out, _ = run(capsys, "start", tmp_path)
    assert code == 0
    assert "nothing was changed" in out


def test_several_problems_of_a_folder_are_said_one_a_line(capsys, tmp_path):
    (tmp_path / "1.tif").write_bytes(b"")
    (tmp_path / "edition.toml").write_text("plate_width_mm = -1\nplate_height_mm = 0\n")
    code, _, err = run(capsys, "check", tmp_path)
    assert code == 1
    assert len(re.findall(r"edition\.toml line \d", err)) == 2


@pytest.mark.parametrize("module", ["numpy", "pandas", "rich", "sqlalchemy", "shapely"])
def test_help_imports_nothing_heavy(module):
    code = (
        "import sys, contextlib\n"
        "from proofkit.cli import main\n"
        "with contextlib.suppress(SystemExit): main(['--help'])\n"
        f"sys.exit({module!r} in sys.modules)"
    )
    assert (
        subprocess.run([sys.executable, "-c", code], capture_output=True, cwd=ROOT, check=False).returncode
        == 0
    )


def test_python_m_proofkit_is_the_command(tmp_path):
    ended = subprocess.run(
        [sys.executable, "-m", "proofkit", "start", str(tmp_path)],
        capture_output=True,
        text=True,
        cwd=ROOT,
        check=False,
    )
    assert ended.returncode == 1
    assert "has no scans" in ended.stderr


def test_a_name_that_steers_a_terminal_is_not_repeated(capsys, tmp_path):
    (tmp_path / "sheet\x1b[2J.tif").write_bytes(b"")
    code, _, err = run(capsys, "check", tmp_path)
    assert code == 1
    assert "\x1b" not in err
    assert "Rename it" in err


def test_a_terminal_that_lacks_a_sign_shows_another(tmp_path):
    ended = subprocess.run(
        [sys.executable, "-m", "proofkit", "start", str(tmp_path / "Büttenrand …")],
        capture_output=True,
        cwd=ROOT,
        check=False,
        env={"PYTHONIOENCODING": "ascii:strict", "PATH": ""},
    )
    assert ended.returncode == 1
    assert b"does not exist" in ended.stderr
