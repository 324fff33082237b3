"""Where on a mean profile across an edge the plate mark lies, and by what it was found.

Profiles run from bare paper (negative t) into the plate (positive t); density is above the bare paper just outside.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy import ndimage
from scipy.special import ndtr

from proofkit.arrays import Floats
from proofkit.frame.types import EdgeKind

SMALLEST_DENSITY = 0.0018
"""Departures below this are taken for unevenness of the paper. [D]"""
SMALLEST_SHARE = 0.01
"""And so are those below this share of the strongest within reach: film 0.01 D beside a black rule is seen. [-]"""
LOOK_IN_MM = 1.2
"""The mark lies within this distance of the first departure from paper: an emboss shade tails off that far. [mm]"""
BEVEL_LINE_MM = 0.22
"""A bevel line is no wider than this at half its height; wider bands count as shade, whatever made them. [mm]"""
DARK_BAND_MM = 1.0
"""A band of emboss shade is no wider than this (common practice: 0.2 to 0.6 mm). [mm]"""
PLATEAU_MM = 0.1
"""A tone step is followed by a stretch at least this long that hardly rises. [mm]"""
SHARP_MM = 0.22
"""Half the window over which a sharp step is told from slow shade. [mm]"""
GENTLE_MM = 0.8
"""A rise longer than this is film that fades out, not an edge. [mm]"""
SOFT_MM = 0.22
"""A rise over its steepest slope that is longer than this is soft: shade or ink, not the film's edge, [mm]"""
SOFT_PX = 4.5
"""which the scan itself blurs to some 2.5 blur sigmas. [px]"""
ON_EDGE_MM = 0.12
"""A sharp step this near the edge of a band is the edge of the plate in it. [mm]"""
SMOOTHINGS_PX = (1.0, 2.0, 4.0)
"""Smoothing along t, as little as shows a departure. [px]"""


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A plate mark on a profile."""

    place_mm: float
    """Of the mark, positive toward the plate. [mm]"""
    kind: EdgeKind
    u_mm: float
    """From the noise of the profile alone. [mm]"""
    strength: float
    """Largest departure near the mark. [D]"""
    reach_mm: tuple[float, float]
    """How far bevel ink, shade or blur reach outside and inside the mark. [mm]"""
    inside: float
    """Level just inside. [D]"""


@dataclass(frozen=True, slots=True)
class _Leg:
    """A stretch over which the smoothed profile goes one way, from one turning point to the next."""

    start: int
    end: int
    change: float


@dataclass(frozen=True, slots=True)
class _Found:
    """A place on the profile that may be the mark."""

    place: float
    """[samples]"""
    kind: EdgeKind
    slope: float
    """Steepest there. [D/sample]"""


def find_mark(profile: Floats, t_mm: Floats, noise: float, search_mm: float) -> Mark | None:
    """Return the first mark met when coming from the paper; None when the profile stays at paper level.

    Parameters
    ----------
    profile : (n,)
        Median over the side of density above the paper outside. [D]
    t_mm : (n,)
        Distance from the line that was followed, evenly spaced. [mm]
    noise : float
        Standard deviation of `profile` on bare paper. [D]
    search_mm : float
        The first departure is looked for from ``-search_mm`` to ``search_mm``. [mm]

    Notes
    -----
    Read like a path from the paper inward. A rise that stays up is a tone step: its half-way point is the mark. A
    rise that soon falls again is bevel ink when narrow: the middle between its half-height points is the mark. A
    wider dark band, and any band lighter than paper, is emboss shade: the mark is half-way along the edge toward the
    plate, which for a light and dark pair is its middle. Image that begins farther in is not reached.
    """
    pitch = float(t_mm[1] - t_mm[0])
    for smoothing in SMOOTHINGS_PX:
        smooth = ndimage.gaussian_filter1d(profile, smoothing, mode="nearest")
        # grain is as wide as the smoothing, so that it is averaged less than independent samples are
        level_noise = noise / np.sqrt(smoothing)
        strongest = float(np.abs(smooth[np.abs(t_mm) <= search_mm]).max())
        threshold = max(5 * level_noise, SMALLEST_DENSITY, SMALLEST_SHARE * strongest)
        first = _first_departure(smooth, t_mm, threshold, search_mm)
        if first is not None:
            break
    else:
        return None
    last = min(len(smooth) - 1, first + round(LOOK_IN_MM / pitch))
    legs = _legs(smooth, first, last, threshold)
    found = _read_path(smooth, legs, pitch, threshold)
    behind = _band_top(smooth, found)
    sharp = _sharp_step(profile, max(first, behind), last, pitch, noise)
    if sharp is not None and _outweighs(sharp, found, smooth, pitch):
        found = sharp
    if found is None:
        return None
    place, kind, slope = found.place, found.kind, found.slope
    if kind == "tone step" and _is_ramp(smooth, place, pitch):
        return None
    place_mm = float(t_mm[0] + place * pitch)
    near = smooth[first : min(len(smooth), round(place) + round(0.4 / pitch))]
    inside = _level(smooth, place, 0.3, 0.6, pitch)
    return Mark(
        place_mm,
        kind,
        float(level_noise / max(slope, 1e-9) * pitch),
        float(np.abs(near).max(initial=threshold)),
        (max(place_mm - float(t_mm[first]), 2 * pitch), _settles(smooth, round(place), inside, pitch)),
        inside,
    )


def _is_ramp(smooth: Floats, place: float, pitch: float) -> bool:
    """Tell whether the rise goes on after the edge as it came: film that fades out. Image would rise far more."""
    before, near, far = (
        _level(smooth, place, a, b, pitch) for a, b in ((-0.35, -0.15), (0.15, 0.35), (0.6, 1.0))
    )
    step = near - before
    return bool(0.7 * step < far - near < 3.0 * step)


def _level(smooth: Floats, place: float, first_mm: float, last_mm: float, pitch: float) -> float:
    """Return the median from `first_mm` to `last_mm` inside `place`, as far as the profile reaches. [D]"""
    first = min(max(round(place + first_mm / pitch), 0), len(smooth) - 1)
    return float(np.median(smooth[first : max(first + 1, round(place + last_mm / pitch) + 1)]))


def _sharp_step(profile: Floats, first: int, last: int, pitch: float, noise: float) -> _Found | None:
    """Return place (index), kind and slope of the first sharp rise that stands on slow shade, if there is one.

    In a short window about each place a cubic takes the shade, and an error function with the blur of a scan takes
    the step. The step must stand out of the noise and be most of what the profile rises there.
    """
    reach = max(5, round(SHARP_MM / pitch))
    blur = max(1.2, 0.04 / pitch)
    weights = _step_weights(reach, blur)
    height = np.correlate(profile, weights, mode="same")
    error = noise * float(np.sqrt((weights**2).sum()))
    side = round(2.5 * blur)
    begin, end = max(reach, first), min(last, len(profile) - reach - 1)
    for i in range(begin, end):
        here = height[i]
        if here < max(6 * error, 2 * SMALLEST_DENSITY) or here < height[i - 1] or here <= height[i + 1]:
            continue
        rise = profile[i + side] - profile[i - side]
        if here < 0.5 * height[i : i + 2 * reach].max() or here < 0.6 * rise:
            continue
        curve = height[i - 1] - 2 * here + height[i + 1]
        place = i + 0.5 * (height[i - 1] - height[i + 1]) / curve
        return _Found(float(place), "tone step", float(here / (blur * np.sqrt(2 * np.pi))))
    return None


@lru_cache(maxsize=16)
def _step_weights(reach: int, blur: float) -> Floats:
    """Return weights whose sum over a window is the height of a step in its middle, by least squares."""
    tau = np.arange(-reach, reach + 1.0)
    basis = np.column_stack([(tau / reach) ** k for k in range(4)] + [ndtr(tau / blur)])
    weights = np.asarray(np.linalg.pinv(basis)[4])
    weights.flags.writeable = False
    return weights


def _band_top(smooth: Floats, path: _Found | None) -> int:
    """Return the index of the top of the dark band on whose falling side the path found its edge, else 0."""
    if path is None or path.kind != "emboss shade":
        return 0
    top = round(path.place)
    while top > 0 and smooth[top - 1] > smooth[top]:
        top -= 1
    return top if smooth[top] > 0 else 0


def _outweighs(
    sharp: _Found,
    path: _Found | None,
    smooth: Floats,
    pitch: float,
) -> bool:
    """Tell whether a sharp step is the mark rather than what the path from the paper met.

    It is when it lies on the path's edge, or when the band that the path met lasts until the step: then it is bevel
    ink or shade before the plate. When the band is over before, the step belongs to the image.
    """
    if path is None:
        return True
    if path.kind == "bevel line":
        return False
    apart = (sharp.place - path.place) * pitch
    if abs(apart) < ON_EDGE_MM:
        return path.kind == "emboss shade"
    if path.kind == "emboss shade" and apart < 0:
        return True
    if not 0 < apart < DARK_BAND_MM or sharp.slope < 1.5 * path.slope:
        return False
    between = smooth[round(path.place) : max(round(path.place) + 1, round(sharp.place) - 1)]
    return bool(between.min() > 0.4 * between.max())


def _first_departure(smooth: Floats, t_mm: Floats, threshold: float, search_mm: float) -> int | None:
    """Return where a run of three departures begins."""
    over = (np.abs(smooth) > threshold) & (np.abs(t_mm) <= search_mm)
    run = over[:-2] & over[1:-1] & over[2:]
    return int(run.argmax()) if run.any() else None


def _legs(smooth: Floats, first: int, last: int, threshold: float) -> list[_Leg]:
    """Return the legs between turning points; wiggles smaller than a quarter of the leg or the noise do not turn."""
    sign = 1.0 if smooth[first] > 0 else -1.0
    start = first
    while start > 0 and (smooth[start - 1] - smooth[start]) * sign < 0 and smooth[start] * sign > 0:
        start -= 1
    legs: list[_Leg] = []
    extreme = start
    for i in range(start + 1, last + 1):
        if (smooth[i] - smooth[extreme]) * sign > 0:
            extreme = i
            continue
        change = smooth[extreme] - smooth[start]
        if (smooth[extreme] - smooth[i]) * sign > max(threshold, 0.25 * abs(change)) and extreme > start:
            legs.append(_Leg(start, extreme, float(change)))
            start, extreme, sign = extreme, i, -sign
    if extreme > start:
        legs.append(_Leg(start, extreme, float(smooth[extreme] - smooth[start])))
    return legs


def _read_path(smooth: Floats, legs: list[_Leg], pitch: float, least: float) -> _Found | None:
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
        return None if fades_in else _Found(place, "emboss shade" if shaded else "tone step", slope)
    return _read_band(smooth, _Found(place, "tone step", slope), top, light, legs[1], pitch, least)


def _read_band(  # noqa: PLR0917  the rise, its fall, and what they are measured in
    smooth: Floats, rise: _Found, top: float, light: float, fall: _Leg, pitch: float, least: float
) -> _Found:
    """Return the mark where a rise to `top` is followed by a fall; `light` is the depth of a light band before."""
    inner, inner_slope, _ = _first_edge(smooth, fall, pitch, least)
    drop = -fall.change / top
    width = (inner - rise.place) * pitch
    inner_edge = _Found(inner, "emboss shade", inner_slope)
    if float(smooth[fall.end]) < -0.3 * top and width < DARK_BAND_MM:
        return inner_edge
    if light > 0.5 * top:
        return replace(rise, kind="emboss shade")
    if drop > 0.3 and width < BEVEL_LINE_MM:
        return _Found(0.5 * (rise.place + inner), "bevel line", float(np.hypot(rise.slope, inner_slope)))
    soft = top / rise.slope * pitch > max(SOFT_MM, SOFT_PX * pitch)
    is_band = (soft and drop > 0.2) or (drop > 0.4 and inner_slope > 0.5 * rise.slope)
    return inner_edge if is_band and width < DARK_BAND_MM else rise


def _first_edge(smooth: Floats, leg: _Leg, pitch: float, least: float) -> tuple[float, float, int]:
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


def _settles(smooth: Floats, index: int, inside: float, pitch: float) -> float:
    """Return how far inside the mark the profile has come to its level there, at most 1 mm."""
    reach = np.abs(smooth[index : min(len(smooth), index + round(1.0 / pitch))] - inside)
    settled = reach <= 0.2 * reach.max(initial=0.0) + 0.002
    return float(settled.argmax() if settled.any() else len(reach)) * pitch + pitch
