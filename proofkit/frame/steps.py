"""The film's edge where ink of the bevel or shade lies before it: sharp steps on one course along an edge.

On a single stretch a faint step on the flank of a band is easily missed, or the band's own rise taken for it. But film
begins at the plate's edge all along it, sharply, while bands come and go and are soft.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.frame.matching import course
from proofkit.frame.medians import median, median_profile
from proofkit.frame.profile import SMALLEST_DENSITY, STAYS, step_filter
from proofkit.peaks import top_beside

WITHIN_MM = 0.4
"""The course lies no farther inward of the line that was followed: bands are no wider. [mm]"""
SLANT_MM = np.linspace(-0.21, 0.21, 15)
"""Tried: how much farther inward than its middle the course lies at one end; a band is no guide to that. [mm]"""
BOW_MM = np.linspace(-0.09, 0.09, 7)
"""Tried: how much farther inward its ends lie than its middle. [mm]"""
NEAR_MM, LITTLE_SLANT_MM, LITTLE_BOW_MM = 0.06, 0.07, 0.04
"""A course this near the line, which is hardly more slanted or bowed, is the line itself. [mm]"""
BESIDE_MM = 0.1
"""A step of the film is over within this distance of its middle. [mm]"""
BEHIND_MM = (0.12, 0.25, 0.5)
"""The tone at the step is the highest up to the first of these behind it, the tone that stays lies between the others:
a line of bevel ink is over by then. [mm]"""
FINE = 4
"""Places tried in one sample."""
ALL_OF_RISE = 0.8
"""A step makes at least this share of what the profile rises over it; the rise of a band goes on. [-]"""
MOST_OF_RISE = 0.6
"""... and, once a course of steps is known, this share on each stretch. [-]"""
NO_SIDE_LOBE = 0.5
"""A step is no lower than this share of one farther in: by least squares a high step has side lobes. [-]"""
LEAST_SIGMAS, MOST_SIGMAS = -2.0, 10.0
"""One stretch counts for no less and no more than this: a pencil stroke must not decide. [standard deviations]"""
LEAST = 6.0
"""Sum over the stretches over the root of their number, where chance in all courses tried reaches 4.2. [-]"""
MORE = 1.15
"""A course must have so many times the sum of the line itself. [-]"""
ON_BAND = 0.3
"""Before the step the tone has this share of that behind it: the band lasts until there, else image begins. [-]"""
SHARE = 0.6
"""Of the stretches, so many must show a step on the course. [-]"""
OFF_MM = 0.07
"""A step belongs to the course when it lies within this distance. [mm]"""
ALIKE_MM = 0.012
"""Steps that scatter more about their course are none. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class _Scores:
    """How well each place of each stretch would do as a step."""

    fine_mm: Floats
    """(m,) places. [mm]"""
    score: Floats
    """(n, m) [standard deviations]"""
    density: Floats
    """(n, m) the profiles there. [D]"""
    pitch_mm: float


@dataclass(frozen=True, slots=True)
class _Course:
    """A place, slant and bow, and the sum of scores along it."""

    sum: float
    place_mm: float
    slant_mm: float
    bow_mm: float

    def at(self, lever: Floats) -> Floats:
        """Return places on stretches. [mm]"""
        return np.asarray(self.place_mm + self.slant_mm * lever + self.bow_mm * (lever**2 - 1 / 3))


def sharp_steps(profiles: Floats, noise: Floats, t_mm: Floats, lever: Floats) -> Floats | None:
    """Return where sharp steps lie that are more likely the plate mark than the line that was followed.

    Parameters
    ----------
    profiles : (n, m)
        Median profiles of stretches along the edge. [D]
    noise : (n,)
        Their standard deviations on bare paper. [D]
    t_mm : (m,)
        Distance from the line, inward positive. [mm]
    lever : (n,)
        Where the stretches lie along the edge, -1 to 1. [-]

    Returns
    -------
    (n,) array or None
        Place of each stretch's step, NaN where it shows none [mm]; None when the line should stay.
    """
    scores = _scores(profiles, noise, t_mm)
    # whatever is sharp on the line itself speaks for it
    own = _best(scores, lever, np.zeros(1), np.zeros(1), NEAR_MM, stays=False)
    if own is not None and own.sum >= MOST_SIGMAS * np.sqrt(len(profiles)) / MORE:
        return None
    slants, bows = SLANT_MM[np.abs(SLANT_MM) < LITTLE_SLANT_MM], BOW_MM[np.abs(BOW_MM) < LITTLE_BOW_MM]
    own = _best(scores, lever, slants, bows, NEAR_MM, stays=False)
    best = _best(scores, lever, SLANT_MM, BOW_MM, WITHIN_MM, stays=True)
    if best is None or best.sum < max(LEAST, 0.0 if own is None else MORE * own.sum):
        return None
    if not _on_band(best.at(lever), profiles, t_mm):
        return None
    return _steps_on(best.at(lever), profiles, noise, t_mm, lever)


def _scores(profiles: Floats, noise: Floats, t_mm: Floats) -> _Scores:
    pitch = float(t_mm[1] - t_mm[0])
    weights, _, blur = step_filter(pitch)
    error = np.maximum(noise * float(np.sqrt((weights**2).sum())), SMALLEST_DENSITY / 6)[:, None]
    height = _heights(profiles, weights)
    sharp = (height > 0) & (height > ALL_OF_RISE * _rise(profiles, blur))
    score = np.where(
        sharp, np.minimum(height / error, MOST_SIGMAS), np.clip(height / error, LEAST_SIGMAS, 0.0)
    )
    reach = WITHIN_MM + float(SLANT_MM[-1] + BOW_MM[-1]) + 0.5
    fine = np.arange(max(t_mm[0], -reach), min(t_mm[-1], reach), pitch / FINE)
    between = [np.stack([np.interp(fine, t_mm, row) for row in table]) for table in (score, profiles)]
    return _Scores(fine, between[0], between[1], pitch)


def _heights(profiles: Floats, weights: Floats) -> Floats:
    """Return the height of a step at each sample, by least squares. (n, m) [D]"""
    return np.stack([np.correlate(row, weights, mode="same") for row in profiles])


def _rise(profiles: Floats, blur: float) -> Floats:
    """Return what the profile rises over a step's width at each sample. (n, m) [D]"""
    side = round(2.5 * blur)
    rise = np.zeros_like(profiles)
    rise[:, side:-side] = profiles[:, 2 * side :] - profiles[:, : -2 * side]
    return rise


def _best(
    scores: _Scores,
    lever: Floats,
    slants: Floats,
    bows: Floats,
    within_mm: float,
    *,
    stays: bool,
) -> _Course | None:
    """Return the course with the highest sum; behind which the tone stays up, when `stays`."""
    step = scores.pitch_mm / FINE
    columns = np.arange(len(scores.fine_mm))
    outside = (scores.fine_mm > within_mm) | (scores.fine_mm < -NEAR_MM)
    best: _Course | None = None
    for slant in slants:
        for bow in bows:
            offsets = np.rint(_Course(0.0, 0.0, slant, bow).at(lever) / step).astype(np.intp)
            at = columns + offsets[:, None]
            there = (at >= 0) & (at < len(columns))
            at = np.clip(at, 0, len(columns) - 1)
            total = np.where(there, np.take_along_axis(scores.score, at, axis=1), 0.0).sum(axis=0)
            total = total / np.sqrt(len(lever))
            total[outside] = -np.inf
            place = int(total.argmax())
            if best is not None and total[place] <= best.sum:
                continue
            if stays:
                tone = median_profile(np.take_along_axis(scores.density, at, axis=1))
                place = _first_that_stays(total, tone, step, -np.inf if best is None else best.sum)
            if place >= 0:
                best = _Course(float(total[place]), float(scores.fine_mm[place]), float(slant), float(bow))
    return best


def _first_that_stays(total: Floats, tone: Floats, step_mm: float, above: float) -> int:
    """Return the place with the highest sum behind which the tone stays, as film does; -1 when none beats `above`."""
    near, begin, end = (round(reach / step_mm) for reach in BEHIND_MM)
    for place in np.argsort(-total):
        if total[place] <= above or not np.isfinite(total[place]):
            break
        behind = tone[place + begin : place + end]
        if len(behind) and median(behind) > STAYS * tone[place : place + near].max():
            return int(place)
    return -1


def _on_band(places: Floats, profiles: Floats, t_mm: Floats) -> bool:
    """Tell whether steps rise out of a band that lies before them, rather than from paper or thin film."""
    before, after = (
        float(
            np.median(
                [np.interp(place + reach, t_mm, row) for place, row in zip(places, profiles, strict=True)]
            )
        )
        for reach in (-BESIDE_MM, BESIDE_MM)
    )
    return before > ON_BAND * after


def _steps_on(
    expected: Floats, profiles: Floats, noise: Floats, t_mm: Floats, lever: Floats
) -> Floats | None:
    """Return where each stretch has its step near a course, None when too few have or they do not lie on one."""
    pitch = float(t_mm[1] - t_mm[0])
    weights, reach, blur = step_filter(pitch)
    height, rise = _heights(profiles, weights), _rise(profiles, blur)
    error = noise * float(np.sqrt((weights**2).sum()))
    places = np.full(len(profiles), np.nan)
    for k, here in enumerate(expected):
        near = np.flatnonzero(np.abs(t_mm - here) < OFF_MM)
        if not len(near):
            continue
        i = int(near[height[k][near].argmax()])
        least = max(3 * float(error[k]), SMALLEST_DENSITY / 2)
        farther_in = height[k, i : i + reach + 1].max()
        is_top = height[k, i] >= height[k, i - 1 : i + 2].max()
        if not is_top or height[k, i] < max(least, MOST_OF_RISE * rise[k, i], NO_SIDE_LOBE * farther_in):
            continue
        places[k] = t_mm[i] + pitch * top_beside(*height[k, i - 1 : i + 2])
    seen: Mask = np.isfinite(places)
    if seen.sum() < max(4, SHARE * len(places)):
        return None
    _, scatter = course(lever[seen], places[seen] / pitch, 2)
    return places if scatter * pitch <= ALIKE_MM else None
