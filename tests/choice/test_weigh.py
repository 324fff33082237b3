import numpy as np
import pytest

from proofkit.choice import weigh_candidates
from proofkit.choice.words import check_wishes, main_words, wish_words
from proofkit.columns import CHOICE_CANDIDATES, CHOICE_DIFFERENCES, CHOICE_WISHES, MEASURES, names
from proofkit.errors import FolderError
from proofkit.folder.edition import Tolerance
from proofkit.folder.wishes import Wish
from tests.choice.proofs import CLEAN, FILM, OPEN, PALM, measured


def row(choice, pull):
    return choice.table.set_index("pull").loc[pull]


def test_wishes_that_pull_apart_name_no_winner(tmp_path):
    choice = weigh_candidates(measured(tmp_path, wishes=(CLEAN, OPEN)))
    sky = choice.wishes[0].granted
    assert sky[0] == 1.0  # film 0.015 D is what the word `clean` asks for
    assert sky[1] == pytest.approx((0.06 - 0.045) / (0.06 - 0.015))
    assert sky[2] == 0.0
    assert choice.wishes[1].granted.tolist() == pytest.approx(
        [0.1, 0.1 + 0.9 * 0.6, 1.0]
    )  # 0.20, 0.14, 0.10 D of ground
    assert row(choice, "1")["first_in"] == "sky: clean"
    assert row(choice, "3")["first_in"] == "hull: darks open"
    assert (choice.table["surpassed_by"] == "").all()
    # Pull 3 grants nothing of the sky and leads nowhere; 1 against 2 is a matter of weights.
    leads = choice.table.set_index("pull")["leads_fraction"]
    assert leads["3"] == 0
    assert 0.1 < leads["1"] < 0.9
    assert leads.sum() == pytest.approx(1.0)
    assert list(choice.table.columns) == names(CHOICE_CANDIDATES)
    assert list(choice.granted.columns) == names(CHOICE_WISHES)
    assert list(choice.differences.columns) == names(CHOICE_DIFFERENCES)


def test_a_candidate_that_is_surpassed_in_all_is_named(tmp_path):
    film = {**FILM, "2": 0.130}
    choice = weigh_candidates(measured(tmp_path, wishes=(CLEAN,), film=film))
    assert row(choice, "2")["surpassed_by"] == "1"
    assert row(choice, "3")["surpassed_by"] == "1"
    assert row(choice, "1")["surpassed_by"] == ""


def test_uncertainty_of_the_measure_becomes_a_range(tmp_path):
    wish = weigh_candidates(measured(tmp_path, wishes=(CLEAN,))).wishes[0]
    # Two standard uncertainties are 0.002 D, and the wish falls by 1 over 0.045 D.
    assert wish.granted[1] - wish.low[1] == pytest.approx(0.002 / 0.045)
    assert wish.high[1] - wish.granted[1] == pytest.approx(0.002 / 0.045)


def test_a_pull_in_the_middle_of_its_recipe_repeats_better_than_one_at_its_edge(tmp_path):
    near = weigh_candidates(measured(tmp_path, wishes=(CLEAN,)))
    far = weigh_candidates(measured(tmp_path, wishes=(CLEAN,), film={**FILM, "1": 0.060}))
    assert row(near, "1")["confirming"] == "4; 5; 6"
    assert row(near, "1")["distance_spreads"] < 0.5
    assert row(far, "1")["distance_spreads"] > 3
    assert row(near, "1")["inside_fraction"] > 0.7
    assert row(far, "1")["inside_fraction"] < 0.1


def test_the_printers_tolerance_decides_what_is_inside(tmp_path):
    tight = (Tolerance("sky", "plate_tone_density", 0.002),)
    choice = weigh_candidates(measured(tmp_path, wishes=(CLEAN,), tolerances=tight))
    assert row(choice, "1")["inside_fraction"] < 0.3
    assert not any("No [tolerances]" in remark for remark in choice.remarks)


def test_a_lucky_pull_without_its_like_has_no_statistics(tmp_path):
    choice = weigh_candidates(measured(tmp_path, wishes=(CLEAN,)))
    assert np.isnan(row(choice, "3")["distance_spreads"])
    assert np.isnan(row(choice, "3")["inside_fraction"])
    assert any("pulls 2 and 3 repeat is not known" in remark for remark in choice.remarks)


@pytest.mark.parametrize(
    ("count", "told"),
    [
        (1, "'hull: darks open' has no scale of its own: it goes from the candidate"),
        (
            2,
            "'hull: darks open' and 'hull: darks open' have no scale of their own: they go from the candidate",
        ),
    ],
)
def test_wishes_without_a_scale_are_told_in_one_sentence(tmp_path, count, told):
    choice = weigh_candidates(measured(tmp_path, wishes=(CLEAN, *[OPEN] * count)))
    (remark,) = (remark for remark in choice.remarks if "no scale" in remark)
    assert remark.startswith(told)


def test_differences_are_told_by_region_and_measure_and_sound_repeats_are_none(tmp_path):
    table = weigh_candidates(measured(tmp_path)).differences
    assert set(table["region"]) == {"sky"}
    assert ("1", "3") in set(zip(table["pull"], table["other"], strict=True))
    alike = weigh_candidates(measured(tmp_path, candidates=("1", "4", "5", "6"))).differences
    assert alike.empty


def test_how_far_proofs_are_from_the_pull_they_were_laid_on_is_no_difference_between_them(tmp_path):
    edition = measured(tmp_path)
    far = edition.measurements["pull"].map({"1": 0.0, "2": 0.3, "3": 0.3}).fillna(0.01)
    edition.measurements["tone_distance_density"] = far
    edition.measurements["hatch_open_fraction"] = 1.0 - far
    told = weigh_candidates(edition).differences["measure"]
    assert "hatch_open_fraction" in set(told)
    assert "tone_distance_density" not in set(told)


def test_without_wishes_nothing_is_said_of_them(tmp_path):
    choice = weigh_candidates(measured(tmp_path))
    assert choice.wishes == ()
    assert choice.granted.empty
    assert choice.table["overall_granted"].isna().all()
    assert any("has no [wishes]" in remark for remark in choice.remarks)


def test_a_wish_for_what_was_not_measured_is_told_and_does_not_count(tmp_path):
    choice = weigh_candidates(measured(tmp_path, wishes=(CLEAN, Wish("sky", "crisp"))))
    assert np.isnan(choice.wishes[1].granted).all()
    assert any("cannot be told" in remark for remark in choice.remarks)
    assert row(choice, "1")["overall_granted"] == 1.0


def test_alike_candidates_are_not_spread_over_the_scale(tmp_path):
    # A range that is all noise (0.001 D) must not become 0 and 1: the scale is never narrower than what matters.
    film = {**FILM, "1": 0.0150, "2": 0.0151, "3": 0.0152}
    choice = weigh_candidates(
        measured(tmp_path, wishes=(Wish("sky", "even"), Wish("hull", "strong")), film=film)
    )
    assert choice.wishes[1].granted.tolist() == pytest.approx([0.55, 0.55, 0.55])


@pytest.mark.parametrize(("candidates", "failures"), [(("1",), {}), (("1", "2"), {"2": "torn"})])
def test_one_proof_is_no_choice(tmp_path, candidates, failures):
    with pytest.raises(FolderError, match="at least 2 trial proofs"):
        weigh_candidates(measured(tmp_path, candidates=candidates, failures=failures))


def test_another_state_is_left_out(tmp_path):
    cells = {"1": {**PALM, "state": "II"}, "2": {**PALM, "state": "II"}, "3": {**PALM, "state": "III"}}
    choice = weigh_candidates(measured(tmp_path, cells=cells))
    assert choice.candidates == ("1", "2")
    assert any("another state" in remark for remark in choice.remarks)


def test_every_word_means_a_measure_and_no_word_means_two():
    assert {aim.measure for aim in wish_words().values()} <= set(names(MEASURES))
    assert len(main_words()) == len(set(main_words()))
    assert all(word == word.casefold() for word in wish_words())


@pytest.mark.parametrize(
    ("wishes", "told"),
    [
        ((Wish("sky", "clean"), Wish("sky", "rich tone")), "no pull can grant both"),
        ((Wish("hull", "strong"), Wish("hull", "delicate")), "no pull can grant both"),
        ((Wish("sky", "sunny"),), "known are clean"),
        ((Wish("sky", "sunny"), Wish("sky", "windy")), "'windy'"),
    ],
)
def test_wishes_that_nobody_can_grant_are_told(wishes, told):
    with pytest.raises(FolderError, match=told):
        check_wishes(wishes)


def test_the_same_measure_may_be_wanted_twice_in_the_same_way():
    check_wishes((Wish("sky", "clean"), Wish("sky", "sky clean", weight=2), Wish("hull", "clean")))
