"""Names of an experiment against those of its editions, before anything is measured."""

import pytest

from proofkit.cli import main

REGIONS = 'name,work,wkt\nstep 1,lines,"POLYGON ((1 1, 9 1, 9 9, 1 9, 1 1))"\n'


@pytest.fixture
def folder(tmp_path):
    """A study of two plates whose scans are named, but not there."""
    for plate in ("a", "b"):
        (tmp_path / "plates" / plate).mkdir(parents=True)
        (tmp_path / "plates" / plate / "pulls.csv").write_text(
            "pull,scan\n1,1.tif\n2,2.tif\n", encoding="utf-8"
        )
        (tmp_path / "plates" / plate / "regions.csv").write_text(REGIONS, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("plate,pull,oil_percent\na,1,5\nb,3,10\n", "pull '3' is not in plate 'b'. There are 1, 2"),
        (
            "plate,region,bite_min\na,step 1,5\nb,step 2,10\n",
            "region 'step 2' is not in regions.csv. There are step 1",
        ),
        ("plate,pull,oil_percent\na,1,5\nc,1,10\n", "plate 'c' has no folder of its name"),
        ("plate,pull,oil_percent\na,1,5\n../b,1,10\n", "plate '../b' is no name of a folder"),
        ("plate,pull,oil_percent\na,1,5\nb,2,10\n", "None of the 2 scans is there"),
    ],
)
def test_what_does_not_go_together_is_said_in_one_line(folder, capsys, text, told):
    (folder / "experiment.csv").write_text(text, encoding="utf-8")
    assert main(["study", str(folder)]) == 1
    said = capsys.readouterr().err
    assert told in said
    assert said.count("\n") == 1
