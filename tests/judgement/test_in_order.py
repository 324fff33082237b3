"""What the order of printing argues, on whole editions of the small press."""

from dataclasses import replace

import pytest

from proofkit.judgement.judge import judge
from tests.judgement.press import Course, print_edition, verdicts


def renamed(measured, names):
    """Return the edition with other names for its pulls, in the same order of rows."""
    new = dict(zip([pull.pull for pull in measured.edition.pulls], names, strict=True))
    tables = {
        name: getattr(measured, name).assign(pull=getattr(measured, name)["pull"].map(new))
        for name in ("measurements", "sheets")
    }
    edition = replace(
        measured.edition,
        pulls=tuple(replace(pull, pull=new[pull.pull]) for pull in measured.edition.pulls),
        confirming=tuple(new[pull] for pull in measured.edition.confirming),
    )
    pictures = {new[pull]: picture for pull, picture in measured.tone_pictures.items()}
    return replace(
        measured, edition=edition, standard=new[measured.standard], tone_pictures=pictures, **tables
    )


@pytest.fixture(scope="module")
def worn():
    """Forty pulls of which each has lost half a per cent of its finest lines."""
    return print_edition([None] * 36, seed=31, course=Course(wear=0.2), pictures=False)


def test_wear_is_told_with_its_rate_and_named_on_late_pulls(worn):
    judged = judge(worn)
    wear = next(remark for remark in judged.remarks if "wearing" in remark)
    assert "finest lines falls steadily" in wear
    given = verdicts(judged)
    assert given["40"] == ("look again", ("plate wear",))
    assert given["3"][0] == "matches"


def test_rows_out_of_order_argue_nothing(worn):
    names = [str(number) for number in range(40, 0, -1)]
    judged = judge(renamed(worn, names))
    assert judged.courses.empty
    assert any("not in the order of their numbers" in remark for remark in judged.remarks)
    assert not judged.judgement["causes"].str.contains("wear").any()


def test_names_that_are_no_numbers_are_counted(worn):
    judged = judge(renamed(worn, [f"proof {chr(97 + k // 26)}{chr(97 + k % 26)}" for k in range(40)]))
    assert any("wearing" in remark for remark in judged.remarks)


def test_spoilt_sheets_leave_gaps(worn):
    # The same forty sheets, but a spoilt one after each of them: half the loss at each pull that was printed.
    judged = judge(renamed(worn, [str(2 * k + 1) for k in range(40)]))
    plain = judge(worn)
    rates = [one.courses.set_index("measure").loc["fine_line_load_um", "per_pull"] for one in (judged, plain)]
    assert rates[0] == pytest.approx(rates[1] / 2, rel=1e-9)


def test_another_mix_is_named_from_its_first_pull():
    judged = judge(print_edition([None] * 26, seed=32, course=Course(batch_at=24), pictures=False))
    assert any("another mix of ink" in remark and "'25'" in remark for remark in judged.remarks)
    given = verdicts(judged)
    assert [given[str(k)][1][:1] for k in range(25, 31)] == [("ink batch",)] * 6
    assert [given[str(k)][0] for k in range(2, 25)].count("look again") <= 1


@pytest.mark.parametrize(("is_noted", "per_pull"), [(True, 0.004), (False, 0.008)])
def test_wiping_that_begins_anew_is_the_hand(is_noted, per_pull):
    # Without a note the film has to fall back by some five spreads of the hand for the break to be found.
    course = Course(film_per_pull=per_pull, reset_every=10, is_noted=is_noted)
    judged = judge(print_edition([None] * 36, seed=33, course=course, pictures=False))
    assert not any("wearing" in remark for remark in judged.remarks)
    row = judged.courses.set_index("measure").loc["plate_tone_density"]
    assert row["kind"] == "falls back"
    assert {"11", "21", "31"} <= set(row["from_pull"].split(", "))


def test_a_dark_late_pull_alone_is_no_wear():
    judged = judge(print_edition([*[None] * 22, "under-inked"], seed=34, pictures=False))
    assert verdicts(judged)["27"][1][0] != "plate wear"
    assert not any("wearing" in remark for remark in judged.remarks)
