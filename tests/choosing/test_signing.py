import hashlib
import tomllib
from datetime import date

import pytest

from proofkit.choice.frozen import changes_since_signing
from proofkit.choosing import sign_standard
from proofkit.errors import FolderError
from proofkit.folder.read import read_edition

TOML = """\
# The cove, third state.
title = "Cove"   # as on the plate

[capture]
ppi = 400        # measured with a rule

[tolerances.sky]
plate_tone_density = 0.02
"""
PULLS = """\
pull,scan,kind,state,ink,wiping
1,a.tif,trial proof,III,stiff,palm
2,b.tif,trial proof,III,soft,rag
3,c.tif,confirming,III,stiff,palm
4,d.tif,confirming,III,stiff,palm
"""
REGIONS = 'name,work,wkt\nsky,open,"POLYGON ((1 1, 9 1, 9 5, 1 5, 1 1))"\n'
DAY = date(2024, 4, 9)


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "scans").mkdir()
    for name in "abcd":
        (tmp_path / "scans" / f"{name}.tif").write_bytes(name.encode())
    for name, text in (("edition.toml", TOML), ("pulls.csv", PULLS), ("regions.csv", REGIONS)):
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_a_signature_freezes_the_recipe_and_keeps_every_comment(folder):
    text = sign_standard(folder, "1", by="A.L.", on=DAY).read_text(encoding="utf-8")
    for line in TOML.splitlines():
        assert line in text
    values = tomllib.loads(text)
    assert values["standard"] == "1"
    assert values["confirming"] == ["3", "4"]
    (signed,) = values["signed"]
    assert (signed["pull"], signed["by"], signed["on"], signed["state"]) == ("1", "A.L.", DAY, "III")
    assert signed["recipe"] == {"ink": "stiff", "wiping": "palm"}
    assert signed["scan_sha256"] == hashlib.sha256(b"a").hexdigest()
    assert signed["tolerances"] == ["sky: plate_tone_density within 0.02"]
    assert read_edition(folder).remarks == ()
    assert changes_since_signing(read_edition(folder), "1", signed["scan_sha256"]) == []


def test_a_second_signature_needs_a_word_and_keeps_the_first(folder):
    sign_standard(folder, "1", by="A.L.", on=DAY)
    with pytest.raises(FolderError, match=r"was signed by A\.L\. on 2024-04-09"):
        sign_standard(folder, "2", by="A.L.")
    sign_standard(folder, "2", by="A.L.", on=DAY, again=True)
    edition = read_edition(folder)
    assert [signed.pull for signed in edition.signed] == ["1", "2"]
    assert edition.standard == "2"


@pytest.mark.parametrize(
    ("pull", "by", "told"),
    [
        ("9", "A", "not in the edition"),
        ("1", "", "initials"),
        ("1", "x" * 13, "1 to 12"),
        ("1", "A\x1b", "initials"),
    ],
)
def test_a_signature_that_cannot_be_is_told_and_nothing_is_written(folder, pull, by, told):
    with pytest.raises(FolderError, match=told):
        sign_standard(folder, pull, by=by)
    assert (folder / "edition.toml").read_text(encoding="utf-8") == TOML


@pytest.mark.parametrize(
    ("gone", "told"), [("scans/a.tif", "scan of pull '1' is not there"), ("regions.csv", "freeze")]
)
def test_what_was_looked_at_must_be_there(folder, gone, told):
    (folder / gone).unlink()
    with pytest.raises(FolderError, match=told):
        sign_standard(folder, "1", by="A")


def test_an_edition_without_settings_gets_them(folder):
    (folder / "edition.toml").unlink()
    sign_standard(folder, "1", by="A", on=DAY)
    assert read_edition(folder).standard == "1"


def test_what_changed_since_is_told(folder):
    sign_standard(folder, "1", by="A.L.", on=DAY)
    (folder / "regions.csv").write_text(REGIONS.replace("9 5", "9 6"), encoding="utf-8")
    edition = read_edition(folder)
    sha256 = edition.signed[0].scan_sha256
    (line,) = changes_since_signing(edition, "1", sha256)
    assert "regions are not those" in line
    assert len(changes_since_signing(edition, "1", "0" * 64)) == 2
    (line,) = changes_since_signing(edition, "2", sha256)
    assert "'1' was signed by A.L." in line
