"""Scans that are no state of the plate: one line each, and no traceback."""

from pathlib import Path

import numpy as np
import pytest
import tifffile

from proofkit.cli.commands import main

SCANS = Path(__file__).parents[2] / "sample_scans" / "jug_and_pears" / "scans"
FIRST = str(SCANS / "state_I_pull_1.tif")

SHEETS = {
    "blank": lambda rng: rng.normal(225, 2, (900, 1100)),
    "black": lambda rng: np.zeros((900, 1100)),
    "noise": lambda rng: rng.uniform(0, 255, (900, 1100)),
    "a thumbnail": lambda rng: np.full((20, 20), 220.0),
}

pytestmark = pytest.mark.slow


@pytest.fixture
def scan(tmp_path):
    def write(name):
        codes = np.clip(SHEETS[name](np.random.default_rng(1)), 0, 255).astype(np.uint8)
        tifffile.imwrite(tmp_path / f"{name}.tif", codes, resolution=(450, 450), resolutionunit="INCH")
        return str(tmp_path / f"{name}.tif")

    return write


@pytest.mark.parametrize("name", SHEETS)
def test_what_shows_no_plate_is_left_out_with_a_line(name, scan, tmp_path, capsys):
    assert main(["compare", FIRST, scan(name), "--out", str(tmp_path / "out")]) == 3
    said = capsys.readouterr()
    assert f"{name}.tif: " in said.out
    assert "not the same plate" in said.out
    assert "Traceback" not in said.err


@pytest.mark.parametrize("name", ["blank", "noise"])
def test_it_cannot_be_the_earlier_state_either(name, scan, tmp_path, capsys):
    code = main(["compare", scan(name), FIRST, "--out", str(tmp_path / "out")])
    said = capsys.readouterr()
    assert code in {1, 3}
    lines = (said.err if code == 1 else said.out).strip().splitlines()
    assert any(f"{name}.tif" in line or "not the same plate" in line for line in lines)


@pytest.mark.parametrize("ppi", ["0", "-600", "24", "1e9", "nan"])
def test_a_resolution_in_another_unit_is_refused(ppi, tmp_path, capsys):
    # 24 px/mm is 600 px/inch.
    asked = ["compare", FIRST, str(SCANS / "state_II_pull_1.tif"), "--ppi", ppi, "450"]
    assert main([*asked, "--out", str(tmp_path / "out")]) == 1
    (line,) = capsys.readouterr().err.strip().splitlines()
    assert "50 to 20000 ppi is allowed" in line
    assert "Give the scanner's setting" in line
