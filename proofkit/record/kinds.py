"""Kinds of proofs and impressions, by their names and by the marks pencilled on them."""

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from proofkit.folder.problems import quoted

Counted = Literal["edition", "proof", "working", "never"]
Numbering = Literal["fraction", "own", "none"]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of impression."""

    name: str
    counted: Counted
    """Where it counts: see kinds.toml."""
    numbering: Numbering
    marks: tuple[str, ...]
    """What is pencilled on the sheet; the first is the one that is proposed."""
    also: tuple[str, ...]
    """Other names."""


@cache
def kinds() -> tuple[Kind, ...]:
    """Return all kinds in the order in which papers list them."""
    text = resources.files("proofkit.record").joinpath("kinds.toml").read_text(encoding="utf-8")
    return tuple(
        Kind(row["name"], row["counted"], row["numbering"], tuple(row["marks"]), tuple(row["also"]))
        for row in tomllib.loads(text)["kinds"]
    )


UNCLEAR = {"cp": ("counterproof", "cancellation proof")}
"""Marks that the trade uses for more than one kind."""


def _key(text: str) -> str:
    """Return letters and digits alone, in lower case, with one kind of apostrophe left out."""
    return re.sub(r"[\W_]+", "", text.casefold())


@cache
def _by_key() -> dict[str, Kind]:
    found: dict[str, Kind] = {}
    for kind in kinds():
        for word in (kind.name, *kind.marks, *kind.also):
            found.setdefault(_key(word), kind)
    return found


def find_kind(text: str) -> Kind | None:
    """Return the kind that a name or mark stands for, None when there is none.

    >>> find_kind("a.p.").name, find_kind("Artists' proof").name
    ("artist's proof", "artist's proof")
    """
    return _by_key().get(_key(text))


def kind_fault(text: str) -> str | None:
    """Return what is wrong with the name of a kind, None when nothing is.

    >>> kind_fault("C.P.")
    "kind 'C.P.' is used for counterproof and for cancellation proof. Write the word in full."
    """
    if _key(text) in UNCLEAR:
        return f"kind {quoted(text)} is used for {' and for '.join(UNCLEAR[_key(text)])}. Write the word in full."
    if find_kind(text) is None:
        names = ", ".join(kind.name for kind in kinds())
        return f"kind {quoted(text)} is not known; allowed are {names}. Write one of them."
    return None
