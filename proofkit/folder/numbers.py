"""Numbers as people write them into cells."""

import math


def number_of(text: str) -> float:
    """Return a number written with a point or a comma, NaN for anything else.

    >>> number_of("42,5")
    42.5
    """
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return math.nan
    return value if math.isfinite(value) else math.nan
