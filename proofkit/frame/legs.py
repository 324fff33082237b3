"""A profile read like a path from the paper inward: its legs, and the mark that they tell. Compiled."""

from typing import NamedTuple

import numpy as np

from proofkit.arrays import Floats
from proofkit.frame.smoothing import smoothed
from proofkit.scan.compiling import kernel

BEVEL_LINE_MM = 0.22
"""A bevel line is no wider than this at half its height; wider bands count as shade, whatever made them. [mm]"""
DARK_BAND_MM = 1.0
"""A band of emboss shade is no wider than this (common practice: 0.2 to 0.6 mm). [mm]"""
PLATEAU_MM = 0.1
"""A tone step is followed by a stretch at least this long that hardly rises. [mm]"""
GENTLE_MM = 0.8
"""A rise longer than this is film that fades out, not an edge. [mm]"""
SOFT_MM = 0.22
"""A rise over its steepest slope that is longer than this is soft: shade or ink, not the film's edge, [mm]"""
SOFT_PX = 4.5
"""which the scan itself blurs to some 2.5 blur sigmas. [px]"""
NOTHING, STEP, LINE, SHADE = -1, 0, 1, 2
"""Kinds of a `Found`: no mark, tone step, bevel line, emboss shade."""


class Leg(NamedTuple):
    """A stretch over which the smoothed profile goes one way, from one turning point to the next."""

    start: int
    end: int
    change: float


class Found(NamedTuple):
    """A place on the profile that may be the mark."""

    place: float
    """[samples]"""
    kind: int
    slope: float
    """Steepest there. [D/sample]"""


@kernel
def legs_of(smooth: Floats, first: int, last: int, threshold: float) -> tuple[Leg, Leg, Leg, int]:
    """Return the first three legs between turning points, and how many there are of them.

    Wiggles smaller than a quarter of the leg or the noise do not turn.
    """
    sign = 1.0 if smooth[first] > 0 else -1.0
    start = first
    while start > 0 and (smooth[start - 1] - smooth[start]) * sign < 0 and smooth[start] * sign > 0:
        start -= 1
    none = Leg(0, 0, 0.0)
    one, two, three = none, none, none
    count = 0
    extreme = start
    for i in range(start + 1, last + 2):
        if i <= last and (smooth[i] - smooth[extreme]) * sign > 0:
            extreme = i
            continue
        change = smooth[extreme] - smooth[start]
        turns = i > last or (smooth[extreme] - smooth[i]) * sign > max(threshold, 0.25 * abs(change))
        if not turns or extreme == start:
            continue
        leg = Leg(start, extreme, change)
        if count == 0:
            one = leg
        elif count == 1:
            two = leg
        else:
            three = leg
        count += 1
        if count == 3:
            break
        start, extreme, sign = extreme, i, -sign
    return one, two, three, count


@kernel
def read_path(smooth: Floats, first: int, last: int, pitch: float, least: float) -> Found:
    """Return the mark on a path from the paper inward, `NOTHING` when nothing rises or all fades in.

    Parameters
    ----------
    smooth : (n,)
        Profile, smoothed. [D]
    first, last : int
        Samples of the first departure from paper, and of the end of the path.
    pitch : float
        [mm/sample]
    least : float
        Least departure. [D]
    """
    rise, fall, after, count = legs_of(smooth, first, last, least)
    light = 0.0
    if count and rise.change < 0:
        light = -smooth[rise.end]
        rise, fall = fall, after
        count -= 1
    if not count:
        return Found(0.0, NOTHING, 0.0)
    place, slope, end = _first_edge(smooth, rise, pitch, least)
    top = smooth[end]
    beyond = min(rise.end, end + max(2, round(PLATEAU_MM / pitch)))
    level = abs(smooth[beyond] - top) < 0.3 * slope * (beyond - end)
    # the rise may rest on a plateau before it goes on: film, and then the image
    rests = level and smooth[rise.end] > 1.3 * top
    if rests or count == 1:
        if not rests and light == 0 and top / slope * pitch > GENTLE_MM:
            return Found(place, NOTHING, slope)
        shaded = light > (0.0 if rests else 0.25 * top)
        return Found(place, SHADE if shaded else STEP, slope)
    return _read_band(smooth, Found(place, STEP, slope), (top, light), fall, (pitch, least))


@kernel
def _read_band(
    smooth: Floats, rise: Found, heights: tuple[float, float], fall: Leg, scale: tuple[float, float]
) -> Found:
    """Return the mark where a rise is followed by a fall.

    `heights` are the top of the rise and the depth of a light band before it, `scale` pitch and least departure.
    """
    top, light = heights
    pitch, least = scale
    inner, inner_slope, _ = _first_edge(smooth, fall, pitch, least)
    drop = -fall.change / top
    width = (inner - rise.place) * pitch
    if smooth[fall.end] < -0.3 * top and width < DARK_BAND_MM:
        return Found(inner, SHADE, inner_slope)
    if light > 0.5 * top:
        return Found(rise.place, SHADE, rise.slope)
    if drop > 0.3 and width < BEVEL_LINE_MM:
        return Found(0.5 * (rise.place + inner), LINE, np.hypot(rise.slope, inner_slope))
    soft = top / rise.slope * pitch > max(SOFT_MM, SOFT_PX * pitch)
    is_band = (soft and drop > 0.2) or (drop > 0.4 and inner_slope > 0.5 * rise.slope)
    if is_band and width < DARK_BAND_MM:
        return Found(inner, SHADE, inner_slope)
    return rise


@kernel
def _first_edge(smooth: Floats, leg: Leg, pitch: float, least: float) -> tuple[float, float, int]:
    """Return half-way place (index), steepest slope per sample and end of the first full edge of a leg.

    An edge is full when at its end, where the slope has fallen to a fifth, at least half of the way from the leg's
    start to there was made on it.
    """
    steps = np.empty(leg.end - leg.start)
    for k in range(steps.size):
        steps[k] = abs(smooth[leg.start + k + 1] - smooth[leg.start + k])
    slope = smoothed(steps, max(0.5, 0.025 / pitch))
    begin = 0
    a, b, peak = leg.start, leg.end, 0
    while begin < slope.size:
        peak = begin
        end = begin
        while end < slope.size and (slope[end] > 0.2 * slope[peak] or end == begin):
            if slope[end] > slope[peak]:
                peak = end
            end += 1
        low = peak
        while low > begin and slope[low - 1] > 0.2 * slope[peak]:
            low -= 1
        a, b = leg.start + low, leg.start + end
        done = abs(smooth[b] - smooth[a])
        if done >= 0.5 * abs(smooth[b] - smooth[leg.start]) and done >= least:
            break
        if end >= slope.size:
            a, b, peak = leg.start, leg.end, int(np.argmax(slope))
            break
        begin = end
    sign = np.sign(leg.change)
    half = 0.5 * (smooth[a] + smooth[b])
    return a + _crossing(smooth[a : b + 1] * sign, half * sign), slope[peak], b


@kernel
def _crossing(rising: Floats, level: float) -> float:
    """Return where values (n,) first pass a level, between samples; held at their ends. [samples]"""
    if level < rising[0]:
        return 0.0
    for k in range(rising.size - 1):
        if level < rising[k + 1]:
            return float(k + (level - rising[k]) / (rising[k + 1] - rising[k]))
    return float(rising.size - 1)
