"""Editions and results for the panels, without a browser."""

import pytest

from proofkit.check import CheckResult
from tests.report import pile

REGIONS = """\
name,work,wkt
sky,open,"POLYGON ((1 1, 8 1, 8 6, 1 6, 1 1))"
proposed lines 1,lines,"POLYGON ((10 10, 20 10, 20 18, 10 18, 10 10))"
"""


@pytest.fixture(scope="session")
def result(tmp_path_factory):
    """What a check of the pile of fifteen would hand on."""
    folder = tmp_path_factory.mktemp("edition")
    measured = pile.measured(folder)
    return CheckResult(
        measured, pile.judged(measured), measured.failures, 14, folder / "report.html", pile.picture
    )


@pytest.fixture
def edition(tmp_path):
    """A folder that can be opened: two scans that are named but hold nothing, two regions."""
    folder = tmp_path / "quarry"
    (folder / "scans").mkdir(parents=True)
    for name in ("a.tif", "b.tif"):
        (folder / "scans" / name).touch()
    (folder / "edition.toml").write_text('title = "Quarry"\nstandard = "1"\n', encoding="utf-8")
    (folder / "pulls.csv").write_text("pull,scan\n1,a.tif\n2,b.tif\n", encoding="utf-8")
    (folder / "regions.csv").write_text(REGIONS, encoding="utf-8")
    return folder
