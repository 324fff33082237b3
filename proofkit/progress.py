"""How long work says how far it has come."""

from collections.abc import Callable

Progress = Callable[[str, int, int], None]
"""``(what is done, how many are done, of how many)``."""


def silent(_what: str, _done: int, _total: int) -> None:
    """Tell nobody."""
