"""What a re-lay study means for judgement: a floor for every spread, and a gate in front of all flags.

A sheet that is laid on the scanner again reads a little differently. No spread between pulls can be known better than
that, and where it is too large, nothing can be said of any pull.
"""

import numpy as np
import pandas as pd

from proofkit.judgement.scales import BY_NAME, steepness
from proofkit.wording import percent

FILM_MOVES_DENSITY = 0.010
"""Re-lay scatter of the plate tone beyond which no sheet is flagged. [D] A third to all of what a steady printer's
film varies by from pull to pull (common practice, 0.01-0.03 D)."""

LOAD_MOVES_FRACTION = 0.02
"""The same for the line load, relative. [-] Common practice, a steady printer's loads vary by about 3 %."""

_GATES = (
    ("plate_tone_density", FILM_MOVES_DENSITY, False, "the plate tone", "D"),
    ("line_load_um", LOAD_MOVES_FRACTION, True, "the line load", "of itself"),
)


def _pooled(rows: pd.DataFrame, deviations: np.ndarray) -> float:
    """Return the root mean square of standard deviations, weighted with their degrees of freedom."""
    freedom = rows["freedom"].to_numpy(dtype=np.float64)
    known = np.isfinite(deviations) & (freedom > 0)
    if not known.any():
        return float("nan")
    return float(np.sqrt((freedom[known] * deviations[known] ** 2).sum() / freedom[known].sum()))


def relay_floor(repeatability: pd.DataFrame) -> dict[str, float]:
    """Return the re-lay scatter of each judged measure on its scale.

    Parameters
    ----------
    repeatability : DataFrame
        Table `repeatability`; may be empty.

    Returns
    -------
    dict of str to float
        Measure -> standard deviation of a single scan on the measure's scale, pooled over regions.
    """
    found: dict[str, float] = {}
    for measure, rows in repeatability.groupby("measure"):
        judged = BY_NAME.get(str(measure))
        if judged is None:
            continue
        means = rows["mean"].to_numpy(dtype=np.float64)
        scatter = rows["relay_sd"].to_numpy(dtype=np.float64) * steepness(judged.scale, means)
        pooled = _pooled(rows, scatter)
        if np.isfinite(pooled):
            found[judged.measure] = pooled
    return found


def relay_gate(repeatability: pd.DataFrame) -> tuple[str, ...]:
    """Return why no sheet can be flagged, one sentence a measure; empty when the scans repeat well enough.

    Parameters
    ----------
    repeatability : DataFrame
        Table `repeatability`; without rows the gate stands open.
    """
    reasons = []
    for measure, most, is_relative, word, unit in _GATES:
        rows = repeatability[repeatability["measure"] == measure]
        deviations = rows["relay_sd"].to_numpy(dtype=np.float64)
        if is_relative:
            deviations = deviations / np.abs(rows["mean"].to_numpy(dtype=np.float64))
        pooled = _pooled(rows, deviations)
        if pooled > most:
            shown = (percent(pooled, 1), percent(most)) if is_relative else (f"{pooled:.3f}", f"{most:.3f}")
            reasons.append(
                f"Laying the same sheet down again moves {word} by {shown[0]} {unit} (standard deviation, re-lay "
                f"study), allowed is {shown[1]}. Clean the glass, let the scanner warm up, switch automatic settings "
                "off, scan again and repeat: proofkit study --relay."
            )
    return tuple(reasons)
