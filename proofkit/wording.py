"""Lists inside sentences, the same in messages, remarks and reports."""

from collections.abc import Sequence

MOST_LISTED = 12
"""Names in a sentence before it says how many more there are."""


def listed(names: Sequence[str]) -> str:
    """Return names as a list in a sentence.

    >>> listed(["3", "9", "12"])
    '3, 9 and 12'
    """
    if len(names) > MOST_LISTED:
        return first_of(names, MOST_LISTED)
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def first_of(names: Sequence[str], most: int) -> str:
    """Return the first names with commas between them, and how many more there are.

    >>> first_of(["sky", "river"], 2), first_of(["sky", "river", "wall", "bank"], 2)
    ('sky, river', 'sky, river and 2 more')
    """
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def percent(share: float, decimals: int = 0) -> str:
    """Return a share as percent, with the space that ISO 80000-1 asks for before the sign.

    >>> percent(0.05), percent(0.0234, 1)
    ('5 %', '2.3 %')
    """
    return f"{100 * share:.{decimals}f} %"


def pulls_listed(pulls: Sequence[str]) -> str:
    """Return pulls as they are named in a sentence.

    >>> pulls_listed(["7"]), pulls_listed(["10", "11"])
    ('pull 7', 'pulls 10 and 11')
    """
    return f"{'pull' if len(pulls) == 1 else 'pulls'} {listed(pulls)}"
