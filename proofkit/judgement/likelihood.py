"""How likely a reading is when a symptom stays and when a cause moves it."""

import math
from functools import cache
from typing import Literal

Sign = Literal["--", "-", "-=", "=", "+=", "+", "++", "!+", "+-", "~"]
"""What a cause does to a symptom; see `causes.toml`."""

_CHANCES: dict[str, tuple[float, float, float, float, float]] = {
    "=": (0.03, 0.10, 0.74, 0.10, 0.03),
    "+": (0.01, 0.02, 0.20, 0.30, 0.47),
    "++": (0.01, 0.01, 0.08, 0.25, 0.65),
    "!+": (0.001, 0.001, 0.003, 0.245, 0.75),
}
"""Chance of the readings -2, -1, 0, 1, 2 when a symptom without a number (a note, a course) stays, rises, nearly always
rises, or is the fault itself. A reading of an unchanged symptom is off by chance about as often as two standard
deviations are passed, allowing for rough tails; a symptom that should change is missed in about one sheet in five, as
faults come in all strengths. Judgement of the trade, not fitted."""

ROUGH_SHARE, ROUGH_SPREAD = 0.07, 2.5
"""Share of good readings that scatter by more than chance, and how far: dust, a hair, a region cut badly.
[-, standard deviations]"""

SHIFTS: dict[str, tuple[float, float]] = {"+": (0.12, 4.0), "++": (0.04, 5.0)}
"""How often a symptom that a cause moves stays all the same, and the mean size of its move. [-, standard deviations]
Faults come in all strengths, so small moves are likelier than large ones: exponential."""

FAR = 12.0
"""Readings count as no farther out than this. [standard deviations]"""

MOST_WEIGHT = math.log(16.0)
"""No single reading speaks louder than by odds of 16 to 1: readings can be wrong for reasons not thought of."""


@cache
def chances(sign: Sign) -> tuple[float, ...]:
    """Return the chances of the readings -2 to 2 when `sign` is expected; they add up to 1.

    A symptom that may change (`+=`, `-=`, `~`) does so in one sheet of three.
    """
    if sign in _CHANCES:
        return _CHANCES[sign]
    if sign in ("-", "--"):
        return chances("+" if sign == "-" else "++")[::-1]
    if sign == "+-":
        return tuple(up / 2 + down / 2 for up, down in zip(chances("+"), chances("-"), strict=True))
    if sign == "~":
        return tuple(
            (up + down + 2 * same) / 4
            for up, down, same in zip(chances("+"), chances("-"), chances("="), strict=True)
        )
    changed = chances("+" if sign == "+=" else "-")
    return tuple((a + b) / 2 for a, b in zip(changed, chances("="), strict=True))


def _good(z: float) -> float:
    """Return the density of a reading of a symptom that has not moved."""
    rough = math.exp(-0.5 * (z / ROUGH_SPREAD) ** 2) / ROUGH_SPREAD
    return ((1 - ROUGH_SHARE) * math.exp(-0.5 * z * z) + ROUGH_SHARE * rough) / math.sqrt(2 * math.pi)


def _moved(z: float, sign: str) -> float:
    """Return the density of a reading of a symptom that has moved up: normal scatter about an exponential size."""
    missed, size = SHIFTS[sign]
    tail = 0.5 * math.erfc((1.0 / size - z) / math.sqrt(2.0))
    return missed * _good(z) + (1 - missed) / size * math.exp(0.5 / size**2 - z / size) * tail


def likelihood_ratio(z: float, sign: Sign) -> float:
    """Return how much likelier a reading of `z` standard deviations is with `sign` expected than on a good pull.

    For every sign but `!+`, which is read in steps.

    Examples
    --------
    >>> likelihood_ratio(4.0, "+") > 10, likelihood_ratio(0.0, "+") < 0.5, likelihood_ratio(1.5, "=")
    (True, True, 1.0)
    """
    z = max(-FAR, min(FAR, z))
    good = _good(z)
    up, down = (_moved(side * z, "++" if sign in ("++", "--") else "+") / good for side in (1.0, -1.0))
    shares = {
        "+": (1.0, 0.0),
        "-": (0.0, 1.0),
        "+=": (0.5, 0.0),
        "-=": (0.0, 0.5),
        "+-": (0.5, 0.5),
        "~": (0.25, 0.25),
    }
    rise, fall = shares.get({"++": "+", "--": "-"}.get(sign, sign), (0.0, 0.0))
    return rise * up + fall * down + (1.0 - rise - fall)
