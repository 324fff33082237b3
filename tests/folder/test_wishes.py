import pytest

from proofkit.errors import FolderError
from proofkit.folder.read import read_edition
from proofkit.folder.wishes import Wish


@pytest.fixture
def write(tmp_path):
    (tmp_path / "pulls.csv").write_text("pull,scan\n1,a.tif\n2,b.tif\n", encoding="utf-8")
    (tmp_path / "regions.csv").write_text(
        'name,work,wkt\nsky,open,"POLYGON ((1 1, 9 1, 9 5, 1 5, 1 1))"\n', encoding="utf-8"
    )

    def write(text):
        (tmp_path / "edition.toml").write_text(text, encoding="utf-8")
        return read_edition(tmp_path)

    return write


def test_words_tables_and_lists_are_read(write):
    edition = write(
        'candidates = ["1", 2]\n[wishes]\nsky = ["clean", { want = "even", weight = 2 }, '
        '{ measure = "plate_tone_density", low = 0.01, best = 0.03, high = 0.08, strictness = 2 }]\n'
    )
    assert edition.candidates == ("1", "2")
    assert edition.wishes == (
        Wish("sky", "clean"),
        Wish("sky", "even", 2.0),
        Wish("sky", "", 1.0, "plate_tone_density", 0.01, 0.03, 0.08, 2.0),
    )


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        ("3", "allowed is a wish in words"),
        ('{ want = "clean", weight = 0 }', "0.1 to 10"),
        ('{ want = "clean", best = 1 }', "words and numbers"),
        ('{ measure = "plate_tone_density", best = 0.1 }', "says too little"),
        ('{ measure = "plate_tone_density", low = 0.2, best = 0.1 }', "low under best under high"),
        ('{ measure = "charm", low = 0.1, best = 0.2 }', "'charm'"),
        ('{ want = "clean", colour = "red" }', "'colour'"),
    ],
)
def test_a_wish_that_is_none_is_told_with_its_line(write, wish, told):
    with pytest.raises(FolderError, match=told) as error:
        write(f"[wishes]\nsky = {wish}\n")
    assert "edition.toml line 2" in str(error.value) or "edition.toml" in str(error.value)


def test_a_wish_for_a_region_and_a_candidate_that_are_not_there(write):
    with pytest.raises(FolderError, match="sea"):
        write('[wishes]\nsea = "clean"\n')
    with pytest.raises(FolderError, match="candidates names pull '7'"):
        write('candidates = ["7"]\n')
