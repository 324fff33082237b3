"""Which of the standard's crossings are read on every sheet, and which of them are fitted."""

from collections.abc import Sequence

import numpy as np
from shapely import contains_xy

from proofkit.arrays import Index, Mask
from proofkit.folder.edition import Region
from proofkit.laying.standard_lines import StandardLines
from proofkit.measures.types import RegionRecord

DRAWN = frozenset({"lines", "drypoint"})
"""Kinds of work in which lines are measured."""

MOST_FITTED = 3000
"""Crossings fitted in a region; more add time but nothing that shows: a crossing's load scatters by 1 to 5 %."""

MOST_READ = 4500
"""Regions of no more clear crossings are read wholly; of others what is fitted, and the points beside. On the
benchmark's A3 sheet loads told so lie within 0.4 of their uncertainty (rms, 12 regions, worst 0.9) of those of all
36 000 to 60 000 crossings, and two sheets within 0.02 % (worst 0.05 %) of each other as all crossings have them: all
sheets are read at the same ones. 8000 more in longer runs lay no nearer (0.3 and 0.01 %)."""

EVENLY = 3000
"""Clear crossings read all over the plate, whatever the regions: they tell its solid ink."""

RUN = 4
"""Crossings in a row that are taken together where not all are: neighbours tell the noise and the edge's course."""


def _evenly(points: Index) -> Index:
    """Return about `MOST_FITTED` of some points, in runs at even distances; all when they are no more."""
    every = max(-(-len(points) // MOST_FITTED), 1)
    return np.asarray(points[(np.arange(len(points)) // RUN) % every == 0])


def crossings_to_fit(records: Sequence[RegionRecord], lines: StandardLines) -> Mask:
    """Return (n,) which crossings are fitted: clear ones of the regions of line work, `MOST_FITTED` of each at most."""
    chosen = np.zeros(lines.lines.size, dtype=np.bool_)
    for record in records:
        if record.region.work in DRAWN:
            chosen[_evenly(record.points[lines.clear[record.points]])] = True
    return chosen


def crossings_to_read(regions: Sequence[Region], lines: StandardLines) -> Index:
    """Return the points whose crossings are read on every sheet, in rising order.

    In a region of line work with up to `MOST_READ` clear crossings these are all its points, clear or not; else the
    fitted ones and the points beside them on their lines, which have a say in whether a line prints.
    """
    n, number = lines.lines.size, lines.lines.line
    if not n:
        return np.empty(0, np.intp)
    xy = lines.lines.points_mm
    wanted = np.zeros(n, dtype=np.bool_)
    for region in regions:
        if region.work not in DRAWN:
            continue
        points = np.flatnonzero(contains_xy(region.outline_mm, xy[:, 0], xy[:, 1]))
        clear = points[lines.clear[points]]
        if len(clear) > MOST_READ:
            points = _evenly(clear)
        wanted[points] = True
    beside = wanted[:-1] ^ wanted[1:]
    beside &= number[:-1] == number[1:]
    wanted[:-1] |= beside
    wanted[1:] |= beside
    clear = np.flatnonzero(lines.clear)
    wanted[clear[:: max(len(clear) // EVENLY, 1)]] = True
    return np.flatnonzero(wanted)
