"""Reconciliation: sums proven by properties, faults planted one by one."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.folder.edition import Pull
from proofkit.record.impressions import impressions
from proofkit.record.kinds import kinds
from proofkit.record.numbering import propose
from proofkit.record.reconcile import ACCOUNTS, lost_pulls, reconcile

KINDS = [kind.name for kind in kinds()]
STATUSES = ["", "keep", "second", "set aside", "spoiled"]
MARKS = ["", "3/30", "A.P. I/V", "B.A.T.", "for the shop"]

entries = st.fixed_dictionaries(
    {
        "kind": st.sampled_from(["", *KINDS]),
        "status": st.sampled_from(STATUSES),
        "designation": st.sampled_from(MARKS),
        "destroyed_on": st.sampled_from(["", "2024-05-01"]),
    }
)
logs = st.dictionaries(st.integers(1, 60), entries, max_size=40)


def pile_of(rows, pulls=(), decided=None):
    """Impressions of a log written as {number: cells}."""
    log = tuple({"pull": str(number), **{k: v for k, v in row.items() if v}} for number, row in rows.items())
    return impressions(pulls, log, decided or {})


@given(logs, st.dictionaries(st.sampled_from(KINDS), st.integers(0, 5)))
def test_every_pull_stands_in_exactly_one_account(rows, authorised):
    pile, _ = pile_of(rows)
    result = reconcile(pile, authorised)
    counted = Counter(pull for account in result.accounts for pull in account.pulls)
    assert set(counted.values()) <= {1}
    known = {str(number) for number in rows}
    lost = {pull for account in result.accounts if account.account == "lost" for pull in account.pulls}
    assert set(counted) == known | lost
    assert not known & lost
    assert result.total == len(known) + len(lost) == sum(result.count(account) for account in ACCOUNTS)


@given(st.sets(st.integers(1, 40), min_size=1), st.data())
def test_a_lost_pull_is_named(numbers, data):
    last = max(numbers)
    all_of_them = set(range(1, last + 1))
    gone = data.draw(st.sampled_from(sorted(all_of_them)))
    present = all_of_them - {gone}
    lost, _ = lost_pulls([str(number) for number in present])
    assert lost == ((str(gone),) if present and gone < max(present) else ())


@given(logs)
def test_numbering_uses_no_number_twice_and_leaves_what_is_written(rows):
    pile, _ = pile_of(rows)
    numbered, _ = propose(pile, {})
    proposed = [
        (one.kind, one.designation) for one in numbered if one.state == "proposed" and one.designation
    ]
    written = {(one.kind, one.designation) for one in numbered if one.state == "written"}
    assert len(proposed) == len(set(proposed))
    assert not set(proposed) & written
    texts = {one.pull: one.designation.text for one in pile}
    assert all(one.designation == texts[one.pull] for one in numbered if one.state == "written")


@given(logs, st.integers(0, 5))
def test_no_more_numbers_are_given_out_than_are_authorised(rows, most):
    pile, _ = pile_of({k: {**row, "designation": ""} for k, row in rows.items()})
    numbered, remarks = propose(pile, {"edition": most})
    edition = [one for one in numbered if one.kind == "edition"]
    assert sum(bool(one.designation) for one in edition) == min(most, len(edition))
    assert sum("numbers are given" in remark for remark in remarks) == max(0, len(edition) - most)


KEPT = {"kind": "edition", "status": "keep"}


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ({1: KEPT, 3: KEPT}, "Pull 2: in no paper"),
        ({1: {"kind": "edition"}}, "Pull 1: edition, nothing was decided"),
        ({1: {}}, "no paper tells its kind"),
        ({1: {**KEPT, "status": "set aside"}}, "set aside"),
        (
            {1: {**KEPT, "designation": "1/3"}, 2: {**KEPT, "designation": "1/3"}},
            "Number 1 of kind edition is on pulls 1 and 2",
        ),
        ({1: {**KEPT, "designation": "1/3"}, 2: {**KEPT, "designation": "2/4"}}, "differ: 3, 4"),
        ({1: {**KEPT, "designation": "5/3"}}, "Number 5 of kind edition is beyond the total of 3"),
        ({1: {**KEPT, "designation": "1/3"}}, "no sheet carries 2, 3"),
        ({1: {**KEPT, "designation": "1/3", "status": "spoiled"}}, "carries 1/3, but is spoiled"),
        ({1: {**KEPT, "status": "second"}}, "destroyed (when?)"),
        ({1: {"designation": "II/V", "status": "keep"}}, "State which use"),
        ({1: {**KEPT, "designation": "with love"}}, "no designation that is known"),
        ({1: KEPT, 2: KEPT, 3: KEPT}, "3 impressions of kind edition are kept, authorised are 2"),
        ({20240311: KEPT}, "whether one was lost cannot be told"),
    ],
)  # fmt: skip
def test_what_does_not_add_up_is_said(rows, told):
    pile, _ = pile_of(rows)
    questions = reconcile(pile, {"edition": 2}).open_questions
    assert sum(told in question for question in questions) == 1, questions


def test_a_pile_in_order_raises_no_question():
    rows = {
        1: {"kind": "trial proof"},
        2: {"kind": "bon à tirer"},
        3: {**KEPT, "designation": "1/2"},
        4: {"kind": "edition", "status": "spoiled", "destroyed_on": "2024-05-01"},
        5: {**KEPT, "designation": "2/2"},
        6: {"kind": "artist's proof", "status": "keep", "designation": "A.P. 1/1"},
        7: {"kind": "maculature"},
    }
    pile, remarks = pile_of(rows)
    result = reconcile(pile, {"edition": 2, "artist's proof": 1})
    assert remarks == ()
    assert result.open_questions == ()
    assert [(a.account, a.kind, a.pulls) for a in result.accounts] == [
        ("edition", "edition", ("3", "5")),
        ("proof", "bon à tirer", ("2",)),
        ("proof", "artist's proof", ("6",)),
        ("working proof", "trial proof", ("1",)),
        ("spoiled", "edition", ("4",)),
        ("not counted", "maculature", ("7",)),
    ]


def test_the_decision_goes_before_the_log_and_the_log_before_pulls_csv():
    pulls = (Pull("1", "1.tif", {"kind": "trial proof", "designation": "2/9"}), Pull("2", "2.tif"))
    pile, remarks = pile_of(
        {1: {"kind": "edition", "status": "keep", "designation": "1/9"}}, pulls, {"1": "second", "9": "keep"}
    )
    assert (pile[0].kind.name, pile[0].status, pile[0].designation.text) == ("edition", "second", "1/9")
    said = " ".join(remarks)
    assert "the log counts" in said
    assert "the decision counts" in said
    assert "Pull '9' was decided about (keep), but stands neither" in said
    assert "not in pull_log.csv: 2" in said


def test_a_kind_that_contradicts_its_mark_is_told():
    _, remarks = pile_of({1: {"kind": "printer's proof", "designation": "A.P. 1/2"}})
    assert "called printer's proof, but marked 'A.P. 1/2'" in remarks[0]


def test_free_numbers_are_given_out_in_order_and_in_the_numerals_asked_for():
    rows = {
        1: KEPT,
        2: {**KEPT, "designation": "1/4"},
        3: KEPT,
        4: {"kind": "artist's proof", "status": "keep"},
    }
    pile, _ = pile_of(rows)
    numbered, _ = propose(pile, {"edition": 4}, "roman")
    assert {one.pull: one.designation for one in numbered} == {
        "1": "2/4",
        "2": "1/4",
        "3": "3/4",
        "4": "A.P. I/I",
    }


def test_what_is_wrong_with_many_pulls_is_said_once():
    notes = {"kind": "artistic proof", "pulled_on": "9.4.24"}
    pulls = [Pull(str(k), f"{k}.tif", notes) for k in (1, 2, 3)]
    # The log replaces both cells of pull 3.
    log = [{"pull": "3", "kind": "edition", "pulled_on": "2024-04-09"}]
    _, remarks = impressions(pulls, log, {})
    (kind,) = (remark for remark in remarks if "is not known" in remark)
    (date,) = (remark for remark in remarks if "pulled_on" in remark)
    assert kind.startswith(
        "Pulls 1 and 2 in pulls.csv: kind 'artistic proof' is not known; allowed are edition"
    )
    assert date == (
        "Pulls 1 and 2 in pulls.csv: pulled_on is '9.4.24', allowed is a date such as 2024-03-11 (year, month, day)."
    )
