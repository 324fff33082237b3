"""A profile read like a path from the paper inward: its legs, and the mark that they tell."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from proofkit.arrays import Floats
from proofkit.frame.types import EdgeKind

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


@dataclass(frozen=True, slots=True)
class Leg:
    """A stretch over which the smoothed profile goes one way, from one turning point to the next."""

    start: int
    end: int
    change: float


@dataclass(frozen=True, slots=True)
class Found:
    """A place on the profile that may be the mark."""

    place: float
    """[samples]"""
    kind: EdgeKind
    slope: float
    """Steepest there. [D/sample]"""


def legs_of(smooth: Floats, first: int, last: int, threshold: float) -> list[Leg]:
    """Return the legs between turning points; wiggles smaller than a quarter of the leg or the noise do not turn."""
    sign = 1.0 if smooth[first] > 0 else -1.0
    start = first
    while start > 0 and (smooth[start - 1] - smooth[start]) * sign < 0 and smooth[start] * sign > 0:
        start -= 1
    legs: list[Leg] = []
    extreme = start
    for i in range(start + 1, last + 1):
        if (smooth[i] - smooth[extreme]) * sign > 0:
            extreme = i
            continue
        change = smooth[extreme] - smooth[start]
        if (smooth[extreme] - smooth[i]) * sign > max(threshold, 0.25 * abs(change)) and extreme > start:
            legs.append(Leg(start, extreme, float(change)))
            start, extreme, sign = extreme, i, -sign
    if extreme > start:
        legs.append(Leg(start, extreme, float(smooth[extreme] - smooth[start])))
    return legs


def read_path(smooth: Floats, legs: list[Leg], pitch: float, least: float) -> Found | None:
    """Return the mark on a path from the paper inward, None when nothing rises or all fades in."""
    light = 0.0
    if legs and legs[0].change < 0:
        light = -float(smooth[legs[0].end])
        legs = legs[1:]
    if not legs:
        return None
    rise = legs[0]
    place, slope, end = _first_edge(smooth, rise, pitch, least)
    top = float(smooth[end])
    beyond = min(rise.end, end + max(2, round(PLATEAU_MM / pitch)))
    level = abs(smooth[beyond] - top) < 0.3 * slope * (beyond - end)
    # the rise may rest on a plateau before it goes on: film, and then the image
    rests = level and smooth[rise.end] > 1.3 * top
    if rests or len(legs) == 1:
        fades_in = not rests and light == 0 and top / slope * pitch > GENTLE_MM
        shaded = light > (0.0 if rests else 0.25 * top)
        return None if fades_in else Found(place, "emboss shade" if shaded else "tone step", slope)
    return _read_band(smooth, Found(place, "tone step", slope), top, light, legs[1], pitch, least)


def _read_band(  # noqa: PLR0917  the rise, its fall, and what they are measured in
    smooth: Floats, rise: Found, top: float, light: float, fall: Leg, pitch: float, least: float
) -> Found:
    """Return the mark where a rise to `top` is followed by a fall; `light` is the depth of a light band before."""
    inner, inner_slope, _ = _first_edge(smooth, fall, pitch, least)
    drop = -fall.change / top
    width = (inner - rise.place) * pitch
    inner_edge = Found(inner, "emboss shade", inner_slope)
    if float(smooth[fall.end]) < -0.3 * top and width < DARK_BAND_MM:
        return inner_edge
    if light > 0.5 * top:
        return replace(rise, kind="emboss shade")
    if drop > 0.3 and width < BEVEL_LINE_MM:
        return Found(0.5 * (rise.place + inner), "bevel line", float(np.hypot(rise.slope, inner_slope)))
    soft = top / rise.slope * pitch > max(SOFT_MM, SOFT_PX * pitch)
    is_band = (soft and drop > 0.2) or (drop > 0.4 and inner_slope > 0.5 * rise.slope)
    return inner_edge if is_band and width < DARK_BAND_MM else rise


def _first_edge(smooth: Floats, leg: Leg, pitch: float, least: float) -> tuple[float, float, int]:
    """Return half-way place (index), steepest slope per sample and end of the first full edge of a leg.

    An edge is full when at its end, where the slope has fallen to a fifth, at least half of the way from the leg's
    start to there was made on it.
    """
    slope = ndimage.gaussian_filter1d(
        np.abs(np.diff(smooth[leg.start : leg.end + 1])), max(0.5, 0.025 / pitch)
    )
    begin = 0
    while begin < len(slope):
        peak = begin
        end = begin
        while end < len(slope) and (slope[end] > 0.2 * slope[peak] or end == begin):
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
        if end >= len(slope):
            a, b, peak = leg.start, leg.end, int(slope.argmax())
            break
        begin = end
    sign = np.sign(leg.change)
    half = 0.5 * (smooth[a] + smooth[b])
    return (
        float(a + np.interp(half * sign, smooth[a : b + 1] * sign, np.arange(b - a + 1))),
        float(slope[peak]),
        b,
    )
