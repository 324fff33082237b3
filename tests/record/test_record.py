"""The papers of an edition from its folder to the sheet, through Python and the command line."""

import html.parser
import io

import pandas as pd
import pypdf
import pytest

from proofkit.cautions import PREVAIL, cautions_for
from proofkit.cli import main
from proofkit.columns import NUMBERING, RECONCILIATION, names
from proofkit.record.papers import FIELDS, read_papers
from proofkit.record.run import record

PULLS = """\
pull,scan,kind,designation,pulled_on,paper
1,1.tif,trial proof,,2024-03-11,rag
2,2.tif,bon à tirer,B.A.T.,2024-03-11,rag
3,3.tif,edition,,2024-03-12,rag
5,5.tif,edition,,2024-03-12,rag
"""

PAPERS = """\
artist = "M. N."
plate_year = 2023
statement_date = 2024-05-01
technique = "etching and aquatint"
[authorised]
edition = 2
"A.P." = 1
[numbering]
proofs = "roman"
"""


@pytest.fixture
def folder(tmp_path):
    """An edition of four scanned pulls; number 4 is in no paper."""
    (tmp_path / "pulls.csv").write_text(PULLS, encoding="utf-8")
    (tmp_path / "edition.toml").write_text(
        'title = "Weir & <mill>"\nplate_width_mm = 120\nplate_height_mm = 90\n', encoding="utf-8"
    )
    return tmp_path


class Cells(html.parser.HTMLParser):
    """Collects the texts of table cells and list points."""

    def __init__(self):
        super().__init__()
        self.texts = []

    def handle_starttag(self, tag, attrs):
        if tag in ("td", "li"):
            self.texts.append("")

    def handle_data(self, data):
        if self.texts:
            self.texts[-1] += data


def cells(path):
    reader = Cells()
    reader.feed(path.read_text(encoding="utf-8"))
    return [text.strip() for text in reader.texts]


def test_a_lost_pull_and_missing_decisions_are_open_questions(folder):
    result = record(folder)
    assert result.reconciliation.total == 5
    assert any(question.startswith("Pull 4: in no paper") for question in result.open_questions)
    assert any(
        question.startswith("Pulls 3, 5: edition, nothing was decided") for question in result.open_questions
    )


def test_every_field_is_on_the_sheet_and_what_is_unknown_says_so(folder):
    (folder / "papers.toml").write_text(PAPERS, encoding="utf-8")
    page = cells(record(folder).page)
    told = dict(zip(page[::2], page[1::2], strict=False))
    for field in FIELDS:
        assert told[field.label]
    assert told["Artist"] == "M. N."
    assert told["Year in which the plate was made"] == "2023"
    assert told["Date of this statement"] == "2024-05-01"
    assert told["Title"] == "Weir & <mill>"
    assert told["Year or years of printing"] == "2024"
    assert told["What became of the plate"] == "not known"
    assert "What became of the plate: not known." in page
    assert told["Size of the plate"].startswith("90 x 120 mm")


def test_the_sheet_calls_itself_a_draft_and_lets_the_law_prevail(folder):
    result = record(folder)
    text = result.page.read_text(encoding="utf-8")
    pdf = pypdf.PdfReader(io.BytesIO(result.page.with_suffix(".pdf").read_bytes()))
    printed = "".join(page.extract_text() for page in pdf.pages)
    for said in (text, printed):
        assert "Draft documentation sheet" in said
        assert "Local law prevails" in said
        assert "certificat" not in said.lower()
    assert "Weir & <mill>" in printed


def test_a_first_papers_file_is_written_once_and_reads_as_nothing_known(folder):
    assert record(folder).started == folder / "papers.toml"
    assert record(folder).started is None
    assert read_papers(folder).texts == {}
    keys = [
        line.split(" = ")[0].removeprefix("# ") for line in (folder / "papers.toml").read_text().splitlines()
    ]
    assert [field.key for field in FIELDS if field.key not in keys] == []


def test_the_whole_way_on_the_command_line(folder, capsys):
    (folder / "papers.toml").write_text(PAPERS, encoding="utf-8")
    for arguments in (
        ["--enter", "pull=4", "kind=edition", "incident=paper crease", "ink=oil and pigment"],
        ["--enter", "pull=6", "kind=A.P."],
        ["--decide", "3", "keep", "--by", "mn"],
        ["--decide", "4", "spoiled", "--by", "mn", "--reason", "crease"],
        ["--decide", "5", "keep", "--by", "mn"],
        ["--decide", "6", "spoiled", "--by", "mn"],
        ["--decide", "6", "taken back", "--by", "mn", "--reason", "the other sheet"],
        ["--decide", "6", "keep", "--by", "mn"],
        ["--enter", "pull=4", "destroyed_on=2024-05-02"],
    ):
        assert main(["record", str(folder), *arguments]) == 0
    said = capsys.readouterr().out.split("Pull 4 is in pull_log.csv.")[-1]
    assert "3 numbers are proposed" in said
    out = folder / "results" / "record"
    accounts = pd.read_csv(out / "reconciliation.csv", dtype=str, keep_default_na=False)
    assert list(accounts.columns) == names(RECONCILIATION)
    assert accounts["count"].astype(float).sum() == 6
    assert not (accounts["account"] == "lost").any()
    numbered = pd.read_parquet(out / "numbering.parquet")
    assert list(numbered.columns) == names(NUMBERING)
    assert dict(zip(numbered["pull"], numbered["designation"], strict=True)) == {
        "3": "1/2",
        "5": "2/2",
        "6": "A.P. I/I",
    }


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--enter", "pull"], "COLUMN=TEXT"),
        (["--enter", "kind=edition"], "pull is missing; every pull has a number"),
        (["--enter", "pull=4", "soak_min=-2"], "allowed is a number from 0"),
        (["--decide", "9", "keep", "--by", "mn"], "stands neither in pulls.csv nor in pull_log.csv"),
        (["--decide", "3", "burn", "--by", "mn"], "allowed is keep"),
        (["--decide", "3", "keep"], "initials"),
        (["--decide", "3", "taken back", "--by", "mn"], "No decision about pull '3' stands"),
        (["--import", "nowhere.csv"], "is not there"),
        (["--by", "mn"], "Give them with --decide PULL WORD"),
        (["--reason", "too pale"], "Give them with --decide PULL WORD"),
    ],
)
def test_what_cannot_be_done_is_said_in_one_line(folder, capsys, arguments, told):
    assert main(["record", str(folder), *arguments]) == 1
    said = capsys.readouterr()
    assert told in said.err
    assert said.err.count("\n") == 1
    assert not (folder / "pull_log.csv").exists()


def test_an_unknown_kind_is_an_open_question_and_cannot_be_entered(folder, capsys):
    # The papers are brought together all the same, so the command is done; what it cannot place it asks about.
    (folder / "pulls.csv").write_text(PULLS.replace("5,5.tif,edition", "5,5.tif,moonlight"), encoding="utf-8")
    assert main(["record", str(folder)]) == 0
    said = capsys.readouterr().out
    assert "Pull 5 in pulls.csv: kind 'moonlight' is not known; allowed are edition" in said
    accounts = pd.read_csv(
        folder / "results" / "record" / "reconciliation.csv", dtype=str, keep_default_na=False
    )
    row = accounts[accounts["pulls"] == "5"]
    assert row[["account", "kind"]].to_numpy().tolist() == [["not decided", ""]]
    assert main(["record", str(folder), "--enter", "pull=6", "kind=moonlight"]) == 1
    assert "Entry of pull '6': kind 'moonlight' is not known" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("artist = 1.5", "artist is '1.5', allowed is text"),
        ("[authorised]\nedition = -1", "edition is '-1', allowed is a whole number"),
        ("[authorised]\nprints = 3", "kind 'prints' is not known"),
        ("[numbering]\nproofs = 'greek'", "allowed is one of 'arabic', 'roman'"),
        ("artist = \ntitle = 1", "not TOML"),
    ],
)
def test_papers_with_faults_are_told_with_their_line(folder, capsys, text, told):
    (folder / "papers.toml").write_text(text, encoding="utf-8")
    assert main(["record", str(folder)]) == 1
    said = capsys.readouterr().err
    assert told in said
    assert "papers.toml line" in said


@pytest.mark.parametrize(
    # What safety pages of printmaking shops warn of, by the word that is on the can or in the log (common practice).
    ("word", "warned"),
    [
        ("nitric acid", "nitrogen dioxide"), ("Dutch mordant", "chlorine"), ("ferric chloride bath", "corrosive"),
        ("white spirit", "Solvents"), ("rosin aquatint", "explosively"), ("lead white", "Pigments"),
        ("tarlatan, then palm", "Oily rags"), ("pressure mark 4", "nip"), ("bite_min", "goggles"),
    ],
)  # fmt: skip
def test_materials_call_for_their_cautions(word, warned):
    said = cautions_for([word])
    assert any(warned in caution for caution in said)
    assert said[-1] == PREVAIL
    assert not any("safe " in caution for caution in said)


def test_papers_without_hazards_call_for_none():
    assert cautions_for(["rag paper, white", "crisp"]) == ()
