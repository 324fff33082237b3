"""Which trial proofs differ, in which regions, in which measures."""

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from proofkit.choice.spreads import Readings, natural, pooled
from proofkit.columns import CHOICE_DIFFERENCES, make_table
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE, adjusted, p_values
from proofkit.judgement.findings import direction
from proofkit.judgement.scales import BY_NAME, Judged, is_worth_a_look


def differences(
    candidates: Sequence[str], measured: Sequence[Readings], groups: Sequence[Sequence[str]]
) -> pd.DataFrame:
    """Return table `choice_differences`: pairs of candidates that differ by more than a recipe's own spread.

    Parameters
    ----------
    candidates : sequence of str
    measured : sequence of Readings
    groups : sequence of sequences of str
        Pulls of every recipe.

    Notes
    -----
    The difference of two pulls strays by ``s sqrt(2)``; false discoveries are bounded over all pairs, regions and
    measures together (Benjamini and Hochberg), and what is smaller than the smallest difference worth a look is left
    out. So are amounts of departure from the pull that all were laid on: two proofs may be equally far from it, and not
    at all alike.
    """
    rows: list[dict[str, object]] = []
    chances: list[float] = []
    for reading in measured:
        if _is_departure(reading.judged):
            continue
        spread = pooled(reading, groups)
        for one, other in combinations(candidates, 2):
            if one not in reading.scaled or other not in reading.scaled:
                continue
            away = (reading.scaled[other] - reading.scaled[one]) / (np.sqrt(2) * spread.size)
            first, second = (natural(reading.judged, reading.scaled[pull]) for pull in (one, other))
            chances.append(float(p_values(np.array([away]), np.array([spread.freedom]), "both")[0]))
            rows.append(
                {
                    "pull": one,
                    "other": other,
                    "region": reading.region,
                    "measure": reading.judged.measure,
                    "value": first,
                    "other_value": second,
                    "deviation": float(away),
                    "direction": direction(reading.judged.measure, higher=second > first),
                }
            )
    q_values = adjusted(np.array(chances)) if chances else np.empty(0)
    kept = []
    for row, q in zip(rows, q_values, strict=True):
        judged = BY_NAME[str(row["measure"])]
        either_way = _either_way(judged, float(str(row["value"])), float(str(row["other_value"])))
        if q <= FALSE_DISCOVERY_RATE and either_way:
            kept.append({**row, "q_value": float(q)})
    return make_table(kept, CHOICE_DIFFERENCES)


def _is_departure(judged: Judged) -> bool:
    """Return whether a measure tells how far a sheet is from the standard, but not to which side."""
    return judged.against_standard and judged.sides == "upper"


def _either_way(judged: Judged, first: float, second: float) -> bool:
    """Return whether two values differ by more than matters, whichever is the larger."""
    one, other = np.array(first), np.array(second)
    return bool(is_worth_a_look(judged, one, other)) or bool(is_worth_a_look(judged, other, one))
