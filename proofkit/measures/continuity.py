"""Which crossings of a region carry ink, and how well the share that does is known."""

import numpy as np
from scipy.special import ndtr

from proofkit.arrays import Floats, Mask
from proofkit.laying.standard_lines import smooth_along
from proofkit.measures.line_work import RegionLines
from proofkit.measures.sampling import noise_along

PRINTED_SHARE = 0.35
"""A crossing prints when it carries this share of the standard's load there (choice of ours). [-]"""

MEDIAN_OF_THREE = 0.67
"""Standard deviation of the median of three normal values over that of one (0.6698; David and Nagaraja 2003, from
memory). [-]"""

BESIDE = 1
"""Crossings to each side on its line that have a say in whether one prints; all that have a say count as one."""


def share_of_standard(region: RegionLines) -> Floats:
    """Return the load of each crossing as a share of the standard's there. [-]"""
    return np.asarray(region.integral_um / np.maximum(region.work.lines.load_um[region.points], 1.0))


def printed(region: RegionLines) -> tuple[Mask, Floats]:
    """Return which crossings carry ink, three neighbours along a line having a say, and how uncertain that is of each.

    Uncertain is how often a second reading would tell it otherwise: the variance ``p (1 - p)`` of normal noise about
    the share that was read.
    """
    own = share_of_standard(region)
    share = np.nan_to_num(smooth_along(own, region.number, BESIDE), nan=0.0)
    noise = MEDIAN_OF_THREE * noise_along(own, region.number)[0]
    prints = share > PRINTED_SHARE
    # Where too few stand in a row to tell their noise, any may be read otherwise, as often as others are.
    known = np.isfinite(noise)
    chance = ndtr((share - PRINTED_SHARE) / max(noise, 1e-6)) if known else np.full(len(share), prints.mean())
    return prints, np.asarray(chance * (1 - chance))


def u_continuity(continuity: float, uncertain: Floats, read: float) -> float:
    """Return the standard uncertainty of the share of line that prints.

    Parameters
    ----------
    continuity : float
    uncertain : Floats
        (n,) variance of whether each crossing prints, see `printed`.
    read : float
        Share of the region's crossings that was read. [-]

    Notes
    -----
    Breaks are the sheet's own; what is not known is how crossings near the limit were read, and how many breaks lie
    where nothing was read. All that have a say in a crossing count as one, and half a crossing is always uncertain.
    """
    together = 2 * BESIDE + 1
    count = max(len(uncertain) / together, 1.0)
    by_noise = max(float(uncertain.sum()) / together, 0.5)
    not_read = continuity * (1 - continuity) * max(1 - read, 0.0) * count
    return float(np.sqrt(by_noise + not_read) / count)


def read_beside(region: RegionLines, half_width: int) -> Mask:
    """Return at which crossings all up to `half_width` beside on the same line were read, and their own."""
    number, load = region.work.lines.lines.line, region.work.values.load_um
    read = np.isfinite(region.integral_um)
    for step in (*range(-half_width, 0), *range(1, half_width + 1)):
        at = np.clip(region.points + step, 0, len(number) - 1)
        read &= np.isfinite(load[at]) | (number[at] != region.number)
    return read
