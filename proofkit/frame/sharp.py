"""Sharp steps on a profile, where film begins, told from slow shade and bands of ink. Compiled."""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr

from proofkit.arrays import Floats
from proofkit.frame.legs import DARK_BAND_MM, LINE, NOTHING, SHADE, STEP, Found
from proofkit.frame.smoothing import correlated, level_inside
from proofkit.scan.compiling import kernel

SMALLEST_DENSITY = 0.0018
"""Departures below this are taken for unevenness of the paper. [D]"""
SHARP_MM = 0.22
"""Half the window over which a sharp step is told from slow shade. [mm]"""
ON_EDGE_MM = 0.12
"""A sharp step this near the edge of a band is the edge of the plate in it. [mm]"""
AS_HIGH = 0.75
"""The first of several sharp steps is the mark unless one farther in is higher by more than this. [-]"""
SOFT = 0.7
"""A rise that holds a step of less than this share of it is shade or ink of the bevel; film makes all of it. [-]"""
STAYS = 0.6
"""Film behind its edge keeps this share of the tone at the edge, ink before it included; a line does not. [-]"""
STANDS = 0.3
"""And the step makes this share of that tone; less is the end of a slow rise. [-]"""
RISEN = 0.5
"""A band that has risen to this share of its top may carry the step of the film. [-]"""


class StepFilter(NamedTuple):
    """Weights that tell the height of a step in the middle of a window."""

    weights: Floats
    reach: int
    """Samples to each side."""
    blur: float
    """Of the step. [samples]"""


@lru_cache(maxsize=16)
def step_filter(pitch: float) -> StepFilter:
    """Return weights whose sum over a window is the height of a step in its middle, by least squares."""
    reach, blur = max(5, round(SHARP_MM / pitch)), max(1.2, 0.04 / pitch)
    tau = np.arange(-reach, reach + 1.0)
    basis = np.column_stack([(tau / reach) ** k for k in range(4)] + [ndtr(tau / blur)])
    return StepFilter(np.array(np.linalg.pinv(basis)[4]), reach, blur)


@kernel
def sharp_step(profile: Floats, first: int, last: int, noise: float, steps: StepFilter) -> Found:
    """Return the first sharp rise that stands on slow shade, `NOTHING` without one.

    In a short window about each place a cubic takes the shade, and an error function with the blur of a scan takes
    the step. The step must stand out of the noise and be most of what the profile rises there.
    """
    weights, reach, blur = steps
    height = correlated(profile, weights)
    error = noise * np.sqrt((weights**2).sum())
    side = round(2.5 * blur)
    for i in range(max(reach, first), min(last, profile.size - reach - 1)):
        here = height[i]
        if here < max(6 * error, 2 * SMALLEST_DENSITY) or here < height[i - 1] or here <= height[i + 1]:
            continue
        rise = profile[i + side] - profile[i - side]
        # by more than the noise: else a soft rise before the step is taken for it in one scan of many
        farther_in = 0.0
        for k in range(i + side, min(i + 2 * reach, height.size)):
            farther_in = max(farther_in, height[k])
        if here - 2 * error < AS_HIGH * farther_in or here < 0.6 * rise:
            continue
        curve = height[i - 1] - 2 * here + height[i + 1]
        place = i + 0.5 * (height[i - 1] - height[i + 1]) / curve
        return Found(place, STEP, here / (blur * np.sqrt(2 * np.pi)))
    return Found(0.0, NOTHING, 0.0)


@kernel
def on_band(smooth: Floats, path: Found) -> int:
    """Return the index where the dark band on whose falling side the path found its edge has risen far, else 0.

    A sharp step that begins from there stands on the band; one that begins lower may be the band's own rise.
    """
    if path.kind != SHADE:
        return 0
    top = round(path.place)
    while top > 0 and smooth[top - 1] > smooth[top]:
        top -= 1
    if smooth[top] <= 0:
        return 0
    risen = top
    while risen > 0 and smooth[risen - 1] > RISEN * smooth[top]:
        risen -= 1
    return risen


@kernel
def outweighs(
    sharp: Found, path: Found, profile: Floats, smooth: Floats, scale: tuple[float, StepFilter]
) -> bool:
    """Tell whether a sharp step is the mark rather than what the path from the paper met; `scale` is pitch and filter.

    It is when it lies on the path's edge, or when the band that the path met lasts until the step: then it is bevel
    ink or shade before the plate. When the band is over before, the step belongs to the image.
    """
    pitch, steps = scale
    if path.kind == NOTHING:
        return True
    if path.kind == LINE:
        return False
    apart = (sharp.place - path.place) * pitch
    if abs(apart) < ON_EDGE_MM:
        return True
    if apart < 0:
        return path.kind == SHADE
    if apart >= DARK_BAND_MM:
        return False
    between = smooth[round(path.place) : max(round(path.place) + 1, round(sharp.place) - 1)]
    steeper = sharp.slope >= 1.5 * path.slope and between.min() > 0.4 * between.max()
    return steeper or _follows_soft_band(profile, smooth, path, sharp, (pitch, steps))


@kernel
def _follows_soft_band(
    profile: Floats, smooth: Floats, path: Found, sharp: Found, scale: tuple[float, StepFilter]
) -> bool:
    """Tell whether the path met a rise without a step, shade or bevel ink, that lasts until a step that stays up."""
    pitch, (weights, reach, blur) = scale
    begin, foot = round(path.place), round(sharp.place - 2.5 * blur)
    near = round(ON_EDGE_MM / pitch)
    first = max(begin - near - reach, 0)
    last = min(begin + near + reach, round(sharp.place - 0.5 * reach), profile.size - 1)
    if foot <= begin or last - first + 1 <= 2 * reach:
        return False
    before = smooth[begin:foot]
    top = np.argmax(before)
    peak = smooth[round(sharp.place) : round(sharp.place) + near + 1].max()
    height = sharp.slope * blur * np.sqrt(2 * np.pi)
    if height <= STANDS * peak or level_inside(smooth, sharp.place, 0.25, 0.5, pitch) <= STAYS * peak:
        return False
    steepest = correlated(profile[first : last + 1], weights)[reach : last - first + 1 - reach].max()
    return bool(steepest < SOFT * before[top] and before[top:].min() > 0.4 * before[top])
