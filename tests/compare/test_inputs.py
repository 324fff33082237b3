"""What may be compared, and the one line that is said when it may not."""

import pytest

from proofkit.compare.inputs import choose_side, two_states
from proofkit.errors import ComparisonError, FolderError


@pytest.fixture
def edition(tmp_path):
    """An edition of three pulls, 1 and 2 of state I, 3 of state II."""
    (tmp_path / "scans").mkdir()
    for k in (1, 2, 3):
        (tmp_path / "scans" / f"{k}.tif").write_bytes(b"")
    (tmp_path / "pulls.csv").write_text("pull,scan,state\n1,1.tif,I\n2,2.tif,I\n3,3.tif,II\n")
    return tmp_path


def test_states_of_an_edition_are_told_by_their_words(edition):
    chosen = choose_side("A", edition, state="I")
    assert [pull.name for pull in chosen.pulls] == ["1", "2"]
    assert chosen.label == "state I"
    assert two_states(edition) == ("I", "II")


def test_pulls_are_taken_in_the_order_asked(edition):
    assert [pull.name for pull in choose_side("B", edition, pulls=["2", "1"]).pulls] == ["2", "1"]


def test_a_side_of_single_pulls_is_called_after_them(edition):
    # Both sides may be of one edition and one state, and would else bear one name.
    assert choose_side("A", edition, pulls=["1", "2"]).label == "pulls 1 and 2"
    assert choose_side("B", edition, pulls=["3"]).label == "pull 3"
    assert choose_side("B", edition, state="I", pulls=["2"]).label == "state I, pull 2"


def test_a_side_without_any_pull_is_refused(edition):
    with pytest.raises(ComparisonError, match="No pull was named for state B"):
        choose_side("B", edition, pulls=[])


def test_unknown_words_name_those_there_are(edition):
    with pytest.raises(ComparisonError, match="'I', 'II'"):
        choose_side("A", edition, state="III")
    with pytest.raises(ComparisonError, match="no pull '9'"):
        choose_side("A", edition, pulls=["9"])


def test_a_folder_alone_needs_two_states(edition):
    (edition / "pulls.csv").write_text("pull,scan,state\n1,1.tif,I\n2,2.tif,I\n3,3.tif,I\n")
    with pytest.raises(ComparisonError, match="two states are compared"):
        two_states(edition)
    with pytest.raises(ComparisonError, match="is no edition; two states are compared"):
        two_states(edition / "scans" / "1.tif")


def test_what_is_not_there_is_named(tmp_path):
    with pytest.raises(ComparisonError, match="does not exist"):
        choose_side("A", tmp_path / "gone.tif")
    (tmp_path / "empty").mkdir()
    with pytest.raises(FolderError):
        choose_side("A", tmp_path / "empty")


def test_a_scan_in_an_edition_keeps_its_settings(edition):
    (edition / "edition.toml").write_text('title = "x"\n[capture]\nppi = 300\n')
    chosen = choose_side("A", edition / "scans" / "2.tif")
    assert chosen.pulls[0].name == "2"
    assert chosen.pulls[0].edition.capture.ppi == 300


def test_a_loose_scan_may_be_given_a_resolution(tmp_path):
    (tmp_path / "loose.tif").write_bytes(b"")
    assert choose_side("A", tmp_path / "loose.tif", ppi=450.0).pulls[0].edition.capture.ppi == 450.0
