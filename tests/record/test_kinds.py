import pytest
from hypothesis import given
from hypothesis import strategies as st

from proofkit.record.designations import from_roman, read_designation, roman, write_designation
from proofkit.record.kinds import find_kind, kind_fault, kinds


@pytest.mark.parametrize(
    # Marks of the trade (common practice; Tamarind Book of Lithography 5.1 and U.S. statutes for their meaning).
    ("mark", "name"),
    [
        ("A.P.", "artist's proof"), ("E.A.", "artist's proof"), ("ap", "artist's proof"), ("P.P.", "printer's proof"),
        ("Pub. P.", "publisher's proof"), ("H.C.", "hors commerce"), ("B.A.T.", "bon à tirer"), ("T.P.", "trial proof"),
        ("W.P.", "working proof"), ("E.V.", "varied edition"), ("Artist’s proof", "artist's proof"),
    ],
)  # fmt: skip
def test_marks_stand_for_their_kinds(mark, name):
    assert find_kind(mark).name == name


def test_no_word_stands_for_two_kinds():
    words = [word.casefold() for kind in kinds() for word in (kind.name, *kind.marks, *kind.also)]
    assert len(words) == len(set(words))


def test_a_mark_with_two_meanings_has_to_be_spelt_out():
    assert find_kind("C.P.") is None
    assert "counterproof and for cancellation proof" in kind_fault("c. p.")


def test_an_unknown_kind_is_told_with_what_is_allowed():
    fault = kind_fault("print")
    assert "'print' is not known" in fault
    assert "edition" in fault


@pytest.mark.parametrize(
    # Numerals as they stand on any dial and title page.
    ("number", "text"),
    [
        (1, "I"),
        (4, "IV"),
        (9, "IX"),
        (14, "XIV"),
        (40, "XL"),
        (90, "XC"),
        (1888, "MDCCCLXXXVIII"),
        (3999, "MMMCMXCIX"),
    ],
)
def test_roman_numerals(number, text):
    assert roman(number) == text
    assert from_roman(text) == number


@pytest.mark.parametrize("text", ["", "IIII", "IIX", "VX", "ABC", "IM"])
def test_letters_that_make_no_numeral(text):
    assert from_roman(text) is None


@pytest.mark.parametrize("number", [0, -1, 4000])
def test_numbers_without_a_numeral(number):
    with pytest.raises(ValueError, match="1 to 3999"):
        roman(number)


@pytest.mark.parametrize(
    ("text", "kind", "number", "total", "numerals"),
    [
        ("3/30", None, 3, 30, "arabic"),
        (" 12 / 30 ", None, 12, 30, "arabic"),
        ("A.P. II/V", "artist's proof", 2, 5, "roman"),
        ("H.C. 1", "hors commerce", 1, None, "arabic"),
        ("II/X", None, 2, 10, "roman"),
        ("B.A.T.", "bon à tirer", None, None, "arabic"),
        ("bon à tirer", "bon à tirer", None, None, "arabic"),
        ("A.P. 0/5", None, None, None, "arabic"),
        ("with love", None, None, None, "arabic"),
        ("", None, None, None, "arabic"),
    ],
)
def test_designations_are_read(text, kind, number, total, numerals):
    found = read_designation(text)
    assert (found.kind.name if found.kind else None) == kind
    assert (found.number, found.total, found.numerals) == (number, total, numerals)


@given(
    st.sampled_from([kind for kind in kinds() if kind.numbering != "none"]),
    st.integers(1, 400),
    st.integers(0, 400),
    st.sampled_from(["arabic", "roman"]),
)
def test_what_is_written_reads_back(kind, number, more, numerals):
    found = read_designation(write_designation(kind, number, number + more, numerals))
    assert (found.number, found.total) == (number, number + more)
    assert found.kind == (None if kind.numbering == "fraction" and not kind.marks else kind)
