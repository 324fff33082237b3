"""Propose designations for kept impressions that carry none. The artist alone fixes the number."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from proofkit.record.designations import Numerals, write_designation
from proofkit.record.impressions import Impression
from proofkit.record.kinds import Kind, kinds


@dataclass(frozen=True, slots=True)
class Numbered:
    """One kept impression of a numbered kind."""

    pull: str
    kind: str
    designation: str
    """As written or as proposed; empty where there is no number left."""
    state: Literal["written", "proposed"]


def propose(
    pile: Sequence[Impression], authorised: Mapping[str, int], numerals: Numerals = "arabic"
) -> tuple[tuple[Numbered, ...], tuple[str, ...]]:
    """Return designations of the kept impressions, and a sentence for each that got none.

    Parameters
    ----------
    pile : sequence of Impression
        In the order in which free numbers are given out; in order of printing as a rule, though a number tells nothing
        about that order afterwards.
    authorised : mapping of str to int
        Kind -> total that is written on the sheets; the number of kept sheets where none is fixed.
    numerals : str
        For proofs; the edition itself is numbered in arabic.

    Returns
    -------
    numbered : tuple of Numbered
        Kind by kind, in order of their papers.
    remarks : tuple of str
    """
    found: list[Numbered] = []
    remarks: list[str] = []
    for kind in kinds():
        if kind.numbering == "none":
            continue
        kept = [one for one in pile if one.kind == kind and _is_kept(one)]
        if kept:
            found += _series(kind, kept, authorised.get(kind.name), numerals, remarks)
    return tuple(found), tuple(remarks)


def _is_kept(one: Impression) -> bool:
    return one.status == "keep" or (not one.status and bool(one.designation.text))


def _series(
    kind: Kind, kept: list[Impression], fixed: int | None, numerals: Numerals, remarks: list[str]
) -> list[Numbered]:
    written = {one.designation.number for one in kept if one.designation.number is not None}
    totals = {one.designation.total for one in kept if one.designation.total is not None}
    total = fixed if fixed is not None else max([len(kept), *totals, *written])
    free = iter(number for number in range(1, total + 1) if number not in written)
    rows = []
    for one in kept:
        if one.designation.number is not None:
            rows.append(Numbered(one.pull, kind.name, one.designation.text, "written"))
            continue
        number = next(free, None)
        if number is None:
            remarks.append(
                f"Pull {one.pull} is kept as {kind.name}, but all {total} numbers are given. Fix another kind or total."
            )
        text = "" if number is None else write_designation(kind, number, total, numerals)
        rows.append(Numbered(one.pull, kind.name, text, "proposed"))
    if fixed is None and kind.counted == "edition":
        remarks.append(
            f"No total is fixed for kind {kind.name} (papers.toml, [authorised]): {total} is what the kept sheets make."
        )
    return rows
