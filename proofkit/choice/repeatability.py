"""How well a candidate can be pulled again: where it stands among the pulls of its own recipe."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from proofkit.choice.spreads import Readings, natural, pooled
from proofkit.distributions import t_below
from proofkit.folder.edition import Tolerance
from proofkit.judgement.scales import to_scale
from proofkit.judgement.tolerances import limit_of

FEWEST_PULLS = 2
"""Other pulls of the recipe that must be there: one more shows a difference, not a spread."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """One candidate among the pulls of its recipe."""

    distance: float
    """Root mean square distance from the centre of the recipe's other pulls, in spreads; NaN = too few pulls."""
    farthest: str
    """Region and measure in which it is farthest."""
    inside_fraction: float
    """Share of further pulls of the recipe expected within all tolerances about this candidate, as if the measures
    strayed apart from each other. [-]"""
    weakest: str
    """Region and measure in which the fewest are inside."""
    weakest_fraction: float
    """That share: more than this can not be inside in all. [-]"""


def repeat(
    pull: str,
    others: Sequence[str],
    wanted: Sequence[Readings],
    groups: Sequence[Sequence[str]],
    tolerances: tuple[Tolerance, ...],
) -> Repeat:
    """Return how repeatable a candidate is.

    Parameters
    ----------
    pull : str
    others : sequence of str
        Other pulls of its recipe: the confirming ones.
    wanted : sequence of Readings
        Measures that the wishes are about.
    groups : sequence of sequences of str
        Pulls of every recipe, for the spread.
    tolerances : tuple of Tolerance
        The printer's; where there is none, the smallest difference worth a look.

    Notes
    -----
    A further pull is Student's t about the mean of the n other pulls with the spread ``s sqrt(1 + 1/n)``.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2-3: prediction of one further value.
    """
    # The candidate itself is left out of the spread that it is held against: a lucky pull would excuse itself.
    groups = [[name for name in group if name != pull] for group in groups]
    distances: list[tuple[float, str]] = []
    shares: list[tuple[float, str]] = []
    for reading in wanted:
        values = reading.of(others)
        if values.size < FEWEST_PULLS or pull not in reading.scaled:
            continue
        name = f"{reading.region}: {reading.judged.measure}"
        spread = pooled(reading, groups)
        size = spread.size * math.sqrt(1 + 1 / values.size)
        centre, here = float(values.mean()), reading.scaled[pull]
        distances.append(((here - centre) / size, name))
        low, high = _allowed(reading, here, tolerances)
        inside = t_below((high - centre) / size, spread.freedom) - t_below(
            (low - centre) / size, spread.freedom
        )
        shares.append((float(inside), name))
    if not shares:
        return Repeat(math.nan, "", math.nan, "", math.nan)
    weakest = min(shares)
    return Repeat(
        distance=math.sqrt(sum(d**2 for d, _ in distances) / len(distances)),
        farthest=max(distances, key=lambda one: abs(one[0]))[1],
        inside_fraction=math.prod(share for share, _ in shares),
        weakest=weakest[1],
        weakest_fraction=weakest[0],
    )


def _allowed(reading: Readings, here: float, tolerances: tuple[Tolerance, ...]) -> tuple[float, float]:
    """Return between which values a pull is inside, on the scale."""
    judged = reading.judged
    value = natural(judged, here)
    own = limit_of(tolerances, reading.region, judged.measure)
    reach = own if own is not None else judged.matters * (abs(value) if judged.scale == "log" else 1.0)
    low, high = (float(to_scale(judged.scale, np.array(value + sign * reach))) for sign in (-1, 1))
    if value - reach <= 0 and judged.scale != "linear":
        low = -math.inf
    return low, high
