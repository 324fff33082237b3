"""What is pencilled below an impression: kind, number and total, read and written."""

import re
from dataclasses import dataclass
from typing import Literal

from proofkit.record.kinds import Kind, find_kind

Numerals = Literal["arabic", "roman"]

_ROMAN = ((1000, "M"), (900, "CM"), (500, "D"), (400, "CD"), (100, "C"), (90, "XC"), (50, "L"), (40, "XL"), (10, "X"),
          (9, "IX"), (5, "V"), (4, "IV"), (1, "I"))  # fmt: skip

LARGEST = 3999
"""Roman numerals in plain letters end here, and hand-printed editions long before."""

_NUMBERED = re.compile(
    r"^(?P<mark>.*?)\s*(?P<number>[0-9]+|[IVXLCDM]+)\s*(?:[/⁄]\s*(?P<total>[0-9]+|[IVXLCDM]+))?$"
)


@dataclass(frozen=True, slots=True)
class Designation:
    """A designation as its parts."""

    kind: Kind | None
    """None for a plain fraction, which is the edition's, and for marks that are not known."""
    number: int | None
    total: int | None
    numerals: Numerals
    text: str
    """As it was written."""


def roman(number: int) -> str:
    """Return a roman numeral.

    >>> roman(4), roman(1994)
    ('IV', 'MCMXCIV')

    Raises
    ------
    ValueError
        Outside 1 to 3999.
    """
    if not 1 <= number <= LARGEST:
        raise ValueError(f"{number} has no roman numeral; allowed are 1 to {LARGEST}")
    text = ""
    for value, letters in _ROMAN:
        text += letters * (number // value)
        number %= value
    return text


def from_roman(text: str) -> int | None:
    """Return the number of a roman numeral, None when the letters make none.

    >>> from_roman("XIV"), from_roman("IIX")
    (14, None)
    """
    left, number = text, 0
    for value, letters in _ROMAN:
        while left.startswith(letters):
            number += value
            left = left[len(letters) :]
    return number if not left and 1 <= number <= LARGEST and roman(number) == text else None


def read_designation(text: str) -> Designation:
    """Return a designation as its parts.

    >>> found = read_designation("A.P. II/V")
    >>> found.kind.name, found.number, found.total, found.numerals
    ("artist's proof", 2, 5, 'roman')
    >>> read_designation("3/30").number
    3
    """
    written = " ".join(text.split())
    whole = find_kind(written) if written else None
    if whole is not None:
        return Designation(whole, None, None, "arabic", written)
    found = _NUMBERED.match(written)
    if found is None:
        return Designation(None, None, None, "arabic", written)
    is_roman = not found["number"].isdecimal()
    number, total = _number(found["number"]), _number(found["total"]) if found["total"] else None
    kind = find_kind(found["mark"]) if found["mark"] else None
    if number is None or (found["total"] and total is None) or (found["mark"] and kind is None):
        return Designation(None, None, None, "arabic", written)
    return Designation(kind, number, total, "roman" if is_roman else "arabic", written)


def _number(text: str) -> int | None:
    if text.isdecimal():
        return int(text) if len(text) <= len(str(LARGEST)) and 1 <= int(text) <= LARGEST else None
    return from_roman(text)


def write_designation(kind: Kind, number: int, total: int, numerals: Numerals = "arabic") -> str:
    """Return what to pencil on an impression.

    Parameters
    ----------
    kind : Kind
        One that is numbered.
    number, total : int
        Number and how many there are of the kind.
    numerals : str
        For proofs; the edition itself is always in arabic ones.

    >>> from proofkit.record.kinds import find_kind
    >>> write_designation(find_kind("artist's proof"), 2, 5, "roman")
    'A.P. II/V'
    >>> write_designation(find_kind("edition"), 3, 30)
    '3/30'
    """
    in_roman = numerals == "roman" and kind.counted != "edition"
    shown = f"{roman(number)}/{roman(total)}" if in_roman else f"{number}/{total}"
    lead = kind.marks[0] if kind.marks else ("" if kind.numbering == "fraction" else kind.name)
    return f"{lead} {shown}".strip()
