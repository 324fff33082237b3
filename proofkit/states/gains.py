"""How much more or less ink a pull has than the base, line for line and place for place."""

import numpy as np
from scipy.spatial import cKDTree

from proofkit.arrays import Floats, Mask
from proofkit.laying.standard_lines import smooth_along
from proofkit.scatter import robust_sd
from proofkit.states.types import SharedLines

LEAST_LOAD_UM = 5.0
"""Fainter crossings say nothing of a pull's ink: grain alone makes 1 to 2 µm (simulated sheets). [µm]"""

NEAR_MM = 6.0
"""Inking and pressure wander over centimetres; nearer lines count more. [mm]"""

ALIKE_LOG = 0.5
"""Wiping and dryness act on fine lines more than on broad ones; loads within this natural logarithm are alike. [-]"""

NEIGHBOURS = 60
"""Crossings of other lines whose median is the gain at a place."""

LOCAL_LOG = 0.15
"""A place is at most this far from what lines of its load have on the whole sheet. Ink of one pull wanders by 15 %;
more than that over a whole passage is work on the plate (choice of ours). [natural log]"""

STRIDE = 4
"""Every so many points of a line stand for it among the neighbours: about 0.6 mm, longer than paper grain."""

LEAST_DIP = 0.03
"""A line this much darker than its sides is told from grain when averaged along. R/Rp [-]"""

BINS = 8
"""Classes of load for the trend of the whole sheet."""

SCATTER_CLASSES = 6

LEAST_SCATTER = 0.02
"""No line is known better from pull to pull (simulated pairs). [natural log]"""


def steady(values: Floats, shared: SharedLines, half_width: int = 2) -> Floats:
    """Return values smoothed along the lines over clear crossings; NaN where a line has none near."""
    lines = shared.lines
    return smooth_along(np.where(lines.clear, values, np.nan), lines.lines.line, half_width)


def log_gains(shared: SharedLines) -> Floats:
    """Return the natural logarithm of each pull's ink against the base, at every point of every line.

    Parameters
    ----------
    shared : SharedLines

    Returns
    -------
    Floats
        (p, n); the first row is 0. NaN where a pull shows too few lines of the base.

    Notes
    -----
    The median over crossings of *other* lines near by and of like load: what one stroke does differently from its
    neighbours is the plate, what all of them do is ink, wiping, pressure or paper. The gain of a place keeps within
    `LOCAL_LOG` of the trend of the whole sheet, so that a passage that was bitten again does not become its own norm.
    """
    base = shared.load_um[0]
    count = base.size
    reference = np.flatnonzero(
        (shared.found_on == 0)
        & shared.lines.clear
        & ~shared.mesh
        & (base > LEAST_LOAD_UM)
        & np.isfinite(base)
    )
    gains = np.full(shared.load_um.shape, np.nan)
    gains[0] = 0.0
    own = np.where(np.isfinite(shared.lines.load_um), shared.lines.load_um, 0.0)
    for number in range(1, len(shared.sides)):
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = np.where(base > LEAST_LOAD_UM, shared.load_um[number] / base, np.nan)
        ratio = steady(ratio, shared, 3)
        usable = np.zeros(count, dtype=np.bool_)
        usable[reference] = np.isfinite(ratio[reference]) & (ratio[reference] > 0.2) & (ratio[reference] < 5)
        if usable.sum() < NEIGHBOURS:
            continue
        gains[number] = _gain_everywhere(shared, np.log(np.where(usable, ratio, 1.0)), usable, own)
    return gains


def _gain_everywhere(shared: SharedLines, logs: Floats, usable: Mask, own_um: Floats) -> Floats:
    pool = np.flatnonzero(usable)[::STRIDE]
    load = np.log(np.maximum(own_um, LEAST_LOAD_UM))
    trend = _trend(load, logs, pool)
    places = np.column_stack((shared.lines.lines.points_mm / NEAR_MM, load / ALIKE_LOG))
    tree = cKDTree(places[pool])
    # Half as many again: some of the nearest belong to the same line and have no say.
    k = min(NEIGHBOURS * 3 // 2, len(pool))
    gain = np.empty(len(places))
    line = shared.lines.lines.line
    for start in range(0, len(places), 8192):
        cut = slice(start, start + 8192)
        near = pool[np.atleast_2d(tree.query(places[cut], k)[1])]
        others = np.where(line[near] == line[cut, None], np.nan, logs[near])
        none = ~np.isfinite(others).any(axis=1)
        others[none] = trend[cut][none, None]
        gain[cut] = np.nanmedian(others, axis=1)
    return np.clip(gain, trend - LOCAL_LOG, trend + LOCAL_LOG)


def _trend(load: Floats, logs: Floats, pool: np.ndarray) -> Floats:
    """Return the sheet's median log ratio for lines of each load, straight between the middles of classes."""
    edges = np.quantile(load[pool], np.linspace(0, 1, BINS + 1))
    bins = np.clip(np.searchsorted(edges, load[pool], side="right") - 1, 0, BINS - 1)
    used = [b for b in range(BINS) if (bins == b).sum() > 4]
    middles = [float(np.median(load[pool][bins == b])) for b in used]
    medians = [float(np.median(logs[pool][bins == b])) for b in used]
    return np.interp(load, middles, medians)


def brought_to_base(shared: SharedLines) -> tuple[Floats, Floats]:
    """Return every pull's line against that of the pull where it was found, freed of what ink changes.

    Returns
    -------
    Floats
        (p, n) by loads of clear crossings, or by dips where a line has none: 1 = as deep as where it was found, 0 =
        not there; NaN where it cannot be said.
    Floats
        (p, n) by dips alone, which are coarser, but hold where other lines run over this one at a small angle.
    """
    gains = log_gains(shared)
    at = np.arange(shared.found_on.size)
    ink = np.exp(gains - gains[shared.found_on, at])
    own_load = shared.load_um[shared.found_on, at]
    own_load = np.where(own_load > 0, own_load, np.nan)
    own_dip = shared.dip[shared.found_on, at]
    own_dip = np.where(own_dip > LEAST_DIP, own_dip, np.nan)
    by_load = np.stack([steady(np.clip(row, -1.0, 5.0), shared) for row in shared.load_um / own_load / ink])
    by_dip = np.clip(shared.dip / own_dip / ink, -1.0, 5.0)
    return np.where(np.isfinite(by_load) & has_clear(shared), by_load, by_dip), by_dip


def has_clear(shared: SharedLines) -> Mask:
    """Return at which points at least two of the seven crossings around are clear."""
    clear = shared.lines.clear.astype(np.float64)
    line = shared.lines.lines.line
    count = clear.copy()
    for shift in (1, 2, 3):
        same = line[shift:] == line[:-shift]
        count[shift:] += clear[:-shift] * same
        count[:-shift] += clear[shift:] * same
    return np.asarray(count >= 2)


def scatter(shared: SharedLines, relative: Floats) -> Floats:
    """Return how much readings of lines of like load scatter from pull to pull, (n,) natural log.

    Robust, over lines found on the base; the largest of all pulls, as the driest one limits what can be told.
    """
    load = np.where(shared.lines.load_um > 0, shared.lines.load_um, 1.0)
    logs = np.log(load)
    base = shared.found_on == 0
    edges = np.quantile(logs[base], np.linspace(0, 1, SCATTER_CLASSES + 1))
    classes = np.clip(np.searchsorted(edges, logs, side="right") - 1, 0, SCATTER_CLASSES - 1)
    result = np.full(logs.size, LEAST_SCATTER)
    for row in relative[1:]:
        with np.errstate(invalid="ignore", divide="ignore"):
            change = np.abs(np.log(row))
        for k in range(SCATTER_CLASSES):
            mine = classes == k
            known = change[mine & base & np.isfinite(change)]
            if known.size > 20:
                result[mine] = np.maximum(result[mine], robust_sd(known, about=0))
    return result
