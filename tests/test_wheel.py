"""What is installed from a wheel has all that the program opens at run time, the notebooks too."""

import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
CARRIED = {".j2", ".css", ".js", ".toml", ".csv", ".typed"}
"""Endings of the package's files that are no code."""

WHERE = """\
import proofkit
from proofkit.widgets.opening import prepare_notebook
from pathlib import Path
print(proofkit.__file__)
print(prepare_notebook(Path("quarry"), "choose").read_bytes() == Path("expected.ipynb").read_bytes())
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel of this clone, made from a copy so that nothing is left beside the sources."""
    source, made = tmp_path_factory.mktemp("source"), tmp_path_factory.mktemp("wheel")
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source / name)
    for name in ("proofkit", "notebooks"):
        shutil.copytree(ROOT / name, source / name, ignore=shutil.ignore_patterns("__pycache__", ".ipynb_*"))
    build = f"import setuptools.build_meta as made; made.build_wheel({str(made)!r})"
    done = subprocess.run(
        [sys.executable, "-c", build], cwd=source, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    (path,) = made.glob("*.whl")
    return path


def test_a_wheel_carries_every_notebook_and_every_file_that_is_no_code(wheel):
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
    notebooks = [Path(name).name for name in names if name.endswith(".ipynb")]
    assert sorted(notebooks) == sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb"))
    wanted = [
        path for path in (ROOT / "proofkit").rglob("*") if path.suffix in CARRIED or path.name == "py.typed"
    ]
    assert wanted
    assert [str(path) for path in wanted if str(path.relative_to(ROOT)) not in names] == []


@pytest.mark.slow
def test_what_was_installed_opens_a_notebook_without_the_clone(wheel, tmp_path):
    """Installed under a prefix of its own: a place that only the installer's own list tells."""
    prefix = tmp_path / "prefix"
    pip = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-index", "--ignore-installed"]
    subprocess.run([*pip, "--disable-pip-version-check", "--prefix", prefix, wheel], check=True)
    (site,) = (path.parents[1] for path in prefix.rglob("proofkit/__init__.py"))
    (tmp_path / "quarry" / "scans").mkdir(parents=True)
    (tmp_path / "quarry" / "scans" / "a.tif").touch()
    shutil.copy(ROOT / "notebooks" / "2_choose_the_standard.ipynb", tmp_path / "expected.ipynb")
    done = subprocess.run(
        [sys.executable, "-c", WHERE], cwd=tmp_path, env={"PYTHONPATH": str(site)}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    assert done.stdout.split("\n")[:2] == [str(site / "proofkit" / "__init__.py"), "True"]
