"""How much two pulls of one recipe differ by nature: from the recipes that were pulled more than once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Floats
from proofkit.judgement.scales import BY_NAME, Judged, from_scale, to_scale
from proofkit.judgement.spread import PRIOR_PULLS, moderated


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """One measure of one region on all pulls, on the scale on which it is judged."""

    region: str
    judged: Judged
    scaled: Mapping[str, float]
    """Pull -> value on the scale; what could not be measured is not there."""

    def of(self, pulls: Sequence[str]) -> Floats:
        """Return the values of pulls that have one."""
        return np.array([self.scaled[pull] for pull in pulls if pull in self.scaled])


def readings(measurements: pd.DataFrame) -> list[Readings]:
    """Return every judged measure of every region of table `measurements`."""
    found = []
    for region, rows in measurements.groupby("region", sort=False):
        work = str(rows["work"].iloc[0])
        for name, judged in BY_NAME.items():
            if name not in rows.columns or not judged.finds or work not in judged.works:
                continue
            values = rows.groupby("pull", sort=False)[name].mean().dropna()
            if len(values):
                scaled = to_scale(judged.scale, values.to_numpy(dtype=np.float64))
                found.append(
                    Readings(
                        str(region), judged, dict(zip(map(str, values.index), scaled.tolist(), strict=True))
                    )
                )
    return found


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviation between pulls of one recipe."""

    size: float
    """On the scale."""
    freedom: float
    pulls: int
    """Pulls that it rests on, beside what is usual of the trade."""


def pooled(reading: Readings, groups: Sequence[Sequence[str]]) -> Spread:
    """Return the spread within recipes, drawn towards the trade's usual one.

    Parameters
    ----------
    reading : Readings
    groups : sequence of sequences of str
        Pulls of each recipe; those with fewer than two values tell nothing.
    """
    squares, freedom, count = 0.0, 0.0, 0
    for pulls in groups:
        values = reading.of(pulls)
        if values.size > 1:
            squares += float(((values - values.mean()) ** 2).sum())
            freedom += values.size - 1
            count += values.size
    own = np.array([squares / freedom if freedom else 0.0])
    variance = moderated(own, np.array([freedom]), reading.judged.usual**2, PRIOR_PULLS)
    size = max(float(np.sqrt(variance[0])), reading.judged.floor)
    return Spread(size, freedom + PRIOR_PULLS, count)


def natural(judged: Judged, scaled: float) -> float:
    """Return a value on the scale in the unit of the measure."""
    return float(from_scale(judged.scale, np.array(scaled)))
