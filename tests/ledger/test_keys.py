import ast
import os
import sys
import tomllib
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path

import cv2
import numpy as np
import pytest
from shapely.geometry import box

import proofkit
from proofkit.folder.edition import Capture, Edition, Region, Wedge
from proofkit.ledger.keys import LIBRARIES, MEASURING, measure_version, setup_digest

EDITION = Edition(Path("a"), "Harbour", (), (Region("sky", "lines", box(0, 0, 9, 9)),), "1")


@pytest.mark.parametrize(
    "other",
    [
        replace(EDITION, regions=(Region("sea", "lines", box(0, 0, 9, 9)),)),
        replace(EDITION, regions=(Region("sky", "tone", box(0, 0, 9, 9)),)),
        replace(EDITION, regions=(Region("sky", "lines", box(0, 0, 9, 9.000001)),)),
        replace(EDITION, plate_width_mm=100.0, plate_height_mm=80.0),
        replace(EDITION, capture=Capture(ppi=600.0)),
        replace(EDITION, capture=Capture(tone_curve="linear")),
        replace(EDITION, capture=Capture(wedge=Wedge((0.1, 0.2, 0.3), ((0, 0), (9, 0))))),
    ],
)
def test_what_the_measuring_depends_on_changes_the_digest(other):
    assert setup_digest(other, None) != setup_digest(EDITION, None)


@pytest.mark.parametrize(
    "other",
    [
        replace(EDITION, title="Mill", folder=Path("b"), standard="2", confirming=("3",), declared="varied"),
        replace(EDITION, regions=(Region("sky", "lines", box(0, 0, 9, 9), proposed=True),)),
        replace(EDITION, capture=Capture(backing="black card")),
    ],
)
def test_what_only_the_judging_depends_on_does_not(other):
    assert setup_digest(other, None) == setup_digest(EDITION, None)


def test_corners_by_hand_change_the_digest():
    corners = np.array([[0, 0], [9, 0], [9, 9], [0, 9]], dtype=float)
    digests = {setup_digest(EDITION, given) for given in (None, corners, corners + 0.001)}
    assert len(digests) == 3


@pytest.mark.parametrize("where", ["blank.tif", "scans/blank.tif"])
def test_a_flat_field_that_comes_or_is_replaced_under_its_name_changes_the_digest(tmp_path, where):
    edition = replace(EDITION, folder=tmp_path, capture=Capture(flat_field="blank.tif"))
    digests = [setup_digest(edition, None)]
    (tmp_path / "scans").mkdir()
    for content in (b"one lamp", b"another!"):
        path = tmp_path / where
        path.write_bytes(content)
        os.utime(path, (1_700_000_000, 1_700_000_000))  # copied with the times of another file
        digests.append(setup_digest(edition, None))
    assert len(set(digests)) == 3
    path.write_bytes(b"one lamp")
    assert setup_digest(edition, None) == digests[1]


def test_the_version_covers_every_module_that_a_sheet_is_made_by():
    root = Path(proofkit.__file__).parent
    project = tomllib.loads((root.parent / "pyproject.toml").read_text(encoding="utf-8"))
    contract = next(c for c in project["tool"]["importlinter"]["contracts"] if c["type"] == "layers")
    layers = [[name.strip() for name in layer.split("|")] for layer in contract["layers"]]
    # Imports point down only, so nothing above `sheet` can make a sheet.
    above = {name for layer in layers[: layers.index(["sheet"])] for name in layer}
    # Texts, settings, warnings, memory and pictures for looking: keys hold what they say, or no number comes from them.
    below = {"folder", "errors", "__init__", "__main__", "cautions", "heap", "pyramid", "wording"}
    modules = {
        path.stem for path in root.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert modules - below - above == {name.removesuffix(".py") for name in MEASURING}
    assert measure_version().startswith(f"{proofkit.__version__}+")


def test_the_version_covers_every_library_that_a_sheet_is_made_by():
    root = Path(proofkit.__file__).parent
    files = [path for name in MEASURING for path in (root / name).glob("**/*.py")]
    files += [root / name for name in MEASURING if name.endswith(".py")]
    nodes = [node for path in files for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))]
    named = {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    named |= {node.module for node in nodes if isinstance(node, ast.ImportFrom) and node.module}
    others = {name.split(".")[0] for name in named} - {"proofkit"} - sys.stdlib_module_names
    # Tables of finished numbers, how many threads there are, and copies of files.
    assert others - {"pandas", "threadpoolctl", "fsspec"} == set(LIBRARIES)


@pytest.mark.parametrize("library", LIBRARIES)
def test_another_version_of_a_library_measures_anew(monkeypatch, library):
    before = measure_version.__wrapped__()
    monkeypatch.setattr(cv2, "__version__", "0.1" if library == "cv2" else cv2.__version__)
    monkeypatch.setattr(
        "proofkit.ledger.keys.version", lambda name: "0.1" if name == library else version(name)
    )
    assert measure_version.__wrapped__() != before
