"""Where on a mean profile across an edge the plate mark lies, and by what it was found.

Profiles run from bare paper (negative t) into the plate (positive t); density is above the bare paper just outside.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import ndimage
from scipy.special import ndtr

from proofkit.arrays import Floats
from proofkit.frame.legs import DARK_BAND_MM, Found, legs_of, read_path
from proofkit.frame.medians import median
from proofkit.frame.types import EdgeKind

SMALLEST_DENSITY = 0.0018
"""Departures below this are taken for unevenness of the paper. [D]"""
SMALLEST_SHARE = 0.01
"""And so are those below this share of the strongest within reach: film 0.01 D beside a black rule is seen. [-]"""
LOOK_IN_MM = 1.2
"""The mark lies within this distance of the first departure from paper: an emboss shade tails off that far. [mm]"""
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
    legs = legs_of(smooth, first, last, threshold)
    found = read_path(smooth, legs, pitch, threshold)
    sharp = _sharp_step(profile, max(first, _on_band(smooth, found)), last, pitch, noise)
    if sharp is not None and _outweighs(sharp, found, profile, smooth, pitch):
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
    return median(smooth[first : max(first + 1, round(place + last_mm / pitch) + 1)])


def _sharp_step(profile: Floats, first: int, last: int, pitch: float, noise: float) -> Found | None:
    """Return place (index), kind and slope of the first sharp rise that stands on slow shade, if there is one.

    In a short window about each place a cubic takes the shade, and an error function with the blur of a scan takes
    the step. The step must stand out of the noise and be most of what the profile rises there.
    """
    weights, reach, blur = step_filter(pitch)
    height = np.correlate(profile, weights, mode="same")
    error = noise * float(np.sqrt((weights**2).sum()))
    side = round(2.5 * blur)
    begin, end = max(reach, first), min(last, len(profile) - reach - 1)
    for i in range(begin, end):
        here = height[i]
        if here < max(6 * error, 2 * SMALLEST_DENSITY) or here < height[i - 1] or here <= height[i + 1]:
            continue
        rise = profile[i + side] - profile[i - side]
        # by more than the noise: else a soft rise before the step is taken for it in one scan of many
        farther_in = float(height[i + side : i + 2 * reach].max(initial=0.0))
        if here - 2 * error < AS_HIGH * farther_in or here < 0.6 * rise:
            continue
        curve = height[i - 1] - 2 * here + height[i + 1]
        place = i + 0.5 * (height[i - 1] - height[i + 1]) / curve
        return Found(float(place), "tone step", float(here / (blur * np.sqrt(2 * np.pi))))
    return None


def step_filter(pitch: float) -> tuple[Floats, int, float]:
    """Return weights that tell the height of a step, half their number and the blur of the step. [samples]"""
    reach, blur = max(5, round(SHARP_MM / pitch)), max(1.2, 0.04 / pitch)
    return _step_weights(reach, blur), reach, blur


@lru_cache(maxsize=16)
def _step_weights(reach: int, blur: float) -> Floats:
    """Return weights whose sum over a window is the height of a step in its middle, by least squares."""
    tau = np.arange(-reach, reach + 1.0)
    basis = np.column_stack([(tau / reach) ** k for k in range(4)] + [ndtr(tau / blur)])
    weights = np.asarray(np.linalg.pinv(basis)[4])
    weights.flags.writeable = False
    return weights


def _on_band(smooth: Floats, path: Found | None) -> int:
    """Return the index where the dark band on whose falling side the path found its edge has risen far, else 0.

    A sharp step that begins from there stands on the band; one that begins lower may be the band's own rise.
    """
    if path is None or path.kind != "emboss shade":
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


def _outweighs(
    sharp: Found,
    path: Found | None,
    profile: Floats,
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
        return True
    if apart < 0:
        return path.kind == "emboss shade"
    between = smooth[round(path.place) : max(round(path.place) + 1, round(sharp.place) - 1)]
    steeper = sharp.slope >= 1.5 * path.slope and bool(between.min() > 0.4 * between.max())
    return apart < DARK_BAND_MM and (steeper or _follows_soft_band(profile, smooth, path, sharp, pitch))


def _follows_soft_band(profile: Floats, smooth: Floats, path: Found, sharp: Found, pitch: float) -> bool:
    """Tell whether the path met a rise without a step, shade or bevel ink, that lasts until a step that stays up."""
    weights, reach, blur = step_filter(pitch)
    begin, foot = round(path.place), round(sharp.place - 2.5 * blur)
    near = round(ON_EDGE_MM / pitch)
    window = profile[
        max(begin - near - reach, 0) : min(begin + near + reach, round(sharp.place - 0.5 * reach)) + 1
    ]
    if foot <= begin or len(window) <= 2 * reach:
        return False
    before = smooth[begin:foot]
    top = int(before.argmax())
    peak = float(smooth[round(sharp.place) : round(sharp.place) + near + 1].max())
    height = sharp.slope * blur * np.sqrt(2 * np.pi)
    stays = height > STANDS * peak and _level(smooth, sharp.place, 0.25, 0.5, pitch) > STAYS * peak
    soft = np.correlate(window, weights).max() < SOFT * before[top]
    return bool(soft and stays and before[top:].min() > 0.4 * before[top])


def _first_departure(smooth: Floats, t_mm: Floats, threshold: float, search_mm: float) -> int | None:
    """Return where a run of three departures begins."""
    over = (np.abs(smooth) > threshold) & (np.abs(t_mm) <= search_mm)
    run = over[:-2] & over[1:-1] & over[2:]
    return int(run.argmax()) if run.any() else None


def _settles(smooth: Floats, index: int, inside: float, pitch: float) -> float:
    """Return how far inside the mark the profile has come to its level there, at most 1 mm."""
    reach = np.abs(smooth[index : min(len(smooth), index + round(1.0 / pitch))] - inside)
    settled = reach <= 0.2 * reach.max(initial=0.0) + 0.002
    return float(settled.argmax() if settled.any() else len(reach)) * pitch + pitch
