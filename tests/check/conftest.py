"""A small simulated edition, drawn once, and copies of it for each test."""

import shutil
from dataclasses import replace

import pytest

from tests.simulate import EditionText, make_edition, make_plate, ordinary_pull

PULLS = ("1", "2", "3", "4", "5")
KEPT_REGIONS = ("open hatching", "contours", "bare ground")
HIGHEST_MM = 19.0
"""The work of `KEPT_REGIONS` ends here; the rest of the trial plate would only cost time. [mm]"""


@pytest.fixture(scope="session")
def drawn(tmp_path_factory):
    """Five good pulls of the upper part of the trial plate at 400 ppi; pull 3 is the standard. Never written to."""
    folder = tmp_path_factory.mktemp("drawn") / "trial"
    whole = make_plate("trial")
    plate = replace(
        whole,
        strokes=tuple(stroke for stroke in whole.strokes if stroke.points_mm[:, 1].max() < HIGHEST_MM),
        regions=tuple(region for region in whole.regions if region.name in KEPT_REGIONS),
    )
    pulls = [ordinary_pull(name, int(name)) for name in PULLS]
    make_edition(folder, plate, pulls, 400, 7, EditionText("Trial passages", "3", ("1", "2", "4")))
    return folder


@pytest.fixture
def edition(drawn, tmp_path):
    """A copy of the drawn edition."""
    return shutil.copytree(drawn, tmp_path / "trial", copy_function=shutil.copyfile)


@pytest.fixture(scope="session")
def checked_once(drawn, tmp_path_factory):
    """A copy of the drawn edition that was checked, with its ledger and results. Never written to."""
    from proofkit.check import check  # noqa: PLC0415 (collecting tests does not need it)

    folder = shutil.copytree(
        drawn, tmp_path_factory.mktemp("checked") / "trial", copy_function=shutil.copyfile
    )
    result = check(folder)
    assert result.new_sheets == len(PULLS)
    assert result.failures == {}
    return folder


@pytest.fixture
def checked(checked_once, tmp_path):
    """A copy of the checked edition."""
    return shutil.copytree(checked_once, tmp_path / "checked", copy_function=shutil.copyfile)
