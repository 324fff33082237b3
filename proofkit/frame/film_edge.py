"""The edge of thin film beside ink of the bevel and shade: one course along the whole edge.

On a single stretch a step of 0.01 D on the flank of a band is lost in the paper's grain, or the band's own rise is
taken for it. But film begins at the plate's edge all along it, sharply, and as high as it lies farther in; bands are
soft.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from proofkit.arrays import Floats
from proofkit.frame.film_kernels import along, heights_of, near_course, ranked, resampled, sums_along
from proofkit.frame.medians import median_profile
from proofkit.peaks import top_beside

WINDOW_MM = 0.45
"""Half the window in which a step is told from a band. [mm]"""
BAND_MM = 0.14
"""Bands are this smooth or smoother: scale of a normal process (squared exponential) that holds bumps of 0.1 mm
standard deviation, the narrowest of emboss shade (common practice: 0.2 to 0.6 mm wide). [mm]"""
BLUR_MM, BLUR_PX = 0.022, 0.65
"""Standard deviation of a step's blur: optics of 0.018 mm (common practice) with the waves of the edge inside a
stretch; the pixel and the reading between pixels. Both together, by the root of squares. [mm, samples]"""
LEVEL_MM, LEVEL_PERCENT = (0.3, 0.9), 28.0
"""The film's height is what lies so far inside its edge, where ink of the bevel is over [mm]; a little below the
median, as a ruled line there is darker than film. [%]"""
LEVEL_ROWS = 5
"""Neighbouring stretches whose film is told together, an odd number."""
BAND_REACH_MM = (-0.7, 0.3)
"""How dark bands are is told between these places. [mm]"""
INWARD_MM = (-0.1, 0.45)
"""The course lies between these, inward of the line that was followed: bands are drawn outside the plate. [mm]"""
SLANT_MM = np.linspace(-0.3, 0.3, 16)
"""Tried: how much farther inward than its middle the course lies at one end; a band is no guide to that. [mm]"""
BOW_MM = np.linspace(-0.24, 0.24, 13)
"""Tried: how much farther inward its ends lie than its middle. [mm]"""
FINE_MM = 0.01
"""Step of the places tried. [mm]"""
LEAST_GAIN = 14.0
"""Least gain of log likelihood over no step. Chance in all courses tried brings a sum of up to 4.5 standard deviations,
which is a gain of 4.5² / 2. [-]"""
LEAST_FILM = 0.005
"""Thinner film is not told from paper, whose clouds are 0.002 D strong (common practice: 0.2 to 0.4 %). [D]"""
FULL_STEP = (0.48, 1.5)
"""The step along the course makes this part of the film inside it, less on soft scans and more on sharp ones. [-]"""
UNLIKE = 0.02
"""Bands depart from a smooth process by this share of their darkness. [-]"""
DARKEST = 1.25
"""Profiles are cut at so many times the darkest of band and film. [-]"""
MOST_PART = 2.0
"""A stretch counts as no higher a step than so many times its film: a pencil stroke must not decide. [-]"""
ON_LINE_MM = 0.035
"""Steps this near to a line lie on it. [mm]"""
LEAST_CHANCE = 1e-12
"""Courses that are so much less likely than the best one say nothing. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class FilmEdge:
    """Where film begins."""

    course_mm: Floats
    """(n,) inward of the line that was followed, a course of second order over the stretches. [mm]"""
    gain: float
    """Log likelihood over no step at all. [-]"""
    line_share: float
    """Part of the film that steps on the line itself make, nearly: 1 where film begins on it. [-]"""
    places_mm: Floats
    """(k,) the same as read on neighbouring stretches together. [mm]"""
    u_mm: Floats
    """(k,) standard uncertainty, infinite where no step is seen. [mm]"""
    members: tuple[slice, ...]
    """(k,) which stretches."""


@dataclass(frozen=True, slots=True, eq=False)
class _Steps:
    """How high a step each stretch has at each place, against what the film makes there."""

    fine_mm: Floats
    """(m,) places. [mm]"""
    told: Floats
    """(n, m) height of the step by least squares, times the film's. [D²]"""
    film: Floats
    """(n, m) height of the film inside that place. [D]"""
    variance: float
    """Of a height. [D²]"""


@dataclass(frozen=True, slots=True, eq=False)
class _Best:
    """The likeliest course, and how likely others are."""

    terms: tuple[float, float, float]
    """Place, slant and bow. [mm]"""
    gain: float
    tried: Floats
    """(c, 3) place, slant and bow of others. [mm]"""
    chance: Floats
    """(c,) that they are right, their sum 1. [-]"""


def film_edge(profiles: Floats, noise: float, t_mm: Floats, lever: Floats, together: int) -> FilmEdge | None:
    """Return the course on which film begins, None when there is too little film to tell.

    Parameters
    ----------
    profiles : (n, m)
        Median profiles of stretches along the edge, above bare paper. [D]
    noise : float
        Standard deviation of one sample of them on bare paper. [D]
    t_mm : (m,)
        Distance from the line that was followed, inward positive. [mm]
    lever : (n,)
        Where the stretches lie along the edge, -1 to 1. [-]
    together : int
        Neighbouring stretches that are read together once the course is known.

    Notes
    -----
    A matched filter: a step whose height is known, in noise and a band that is a smooth normal process, by generalised
    least squares (Aitken 1935). As the weights are the same for all stretches, their sums along a course are what
    the weights make of the mean profile along it; so the weights are those for the noise of that mean.
    """
    steps = _steps_of(profiles, noise, t_mm)
    best = _best_course(steps, lever)
    course = _course(best.terms, lever)
    grid = float(steps.fine_mm[0]), FINE_MM
    told, film = (along(table, *grid, course) for table in (steps.told, steps.film))
    share = told.sum() / max((film**2).sum(), 1e-12)
    if best.gain < LEAST_GAIN or not FULL_STEP[0] < share < FULL_STEP[1] or np.median(film) < LEAST_FILM:
        return None
    size = max(1, min(together, len(profiles) // 4))
    members = tuple(slice(k, k + size) for k in range(0, len(profiles) - size + 1, size))
    shift, u = near_course((steps.told, steps.film), grid, course, size, (float(share), steps.variance))
    place, slant, bow = (
        term[: len(members) * size].reshape(-1, size).mean(axis=1) for term in (course, lever, lever**2)
    )
    u = np.hypot(u, _doubts(best, slant, bow - 1 / 3))
    return FilmEdge(course, best.gain, _share_on_line(steps), place + shift, u, members)


def _weights(pitch: float, noise: float, band: float) -> Floats:
    """Return the weights that tell the height of a step in noise and a smooth band. [-]

    Level and slope of what lies there are free: variances of 1 D² are as good as none given.
    """
    tau = np.arange(-round(WINDOW_MM / pitch), round(WINDOW_MM / pitch) + 1) * pitch
    step = ndtr(tau / np.hypot(BLUR_MM, BLUR_PX * pitch))
    smooth = band**2 * np.exp(-0.5 * ((tau[:, None] - tau) / BAND_MM) ** 2)
    covariance = smooth + 1.0 + np.outer(tau, tau) / WINDOW_MM**2 + noise**2 * np.eye(len(tau))
    weights = np.linalg.solve(covariance, step)
    return np.asarray(weights / (weights @ step))


def _steps_of(profiles: Floats, noise: float, t_mm: Floats) -> _Steps:
    pitch = float(t_mm[1] - t_mm[0])
    middle = median_profile(profiles)
    near = (t_mm > BAND_REACH_MM[0]) & (t_mm < BAND_REACH_MM[1])
    band = max(0.5 * float(np.ptp(middle[near])), noise)
    weights = _weights(pitch, float(np.hypot(noise / np.sqrt(len(profiles)), UNLIKE * band)), band)
    reach = float(SLANT_MM[-1] + BOW_MM[-1])
    fine = np.arange(max(t_mm[0], INWARD_MM[0] - reach), min(t_mm[-1], INWARD_MM[1] + reach), FINE_MM)
    first, last = np.searchsorted(t_mm, (min(fine[0], BAND_REACH_MM[0]), fine[-1]))
    asked = slice(max(int(first) - 1, 0), int(last) + 1)
    film = _film_inside(profiles, pitch, asked)
    # what is darker than anything about the edge is a line, and rises more sharply than film does
    darkest = DARKEST * max(float(middle[near].max()), float(np.median(film[:, near[asked]]))) + 4 * noise
    height = heights_of(profiles, weights, darkest)[:, asked]
    variance = float(noise**2 * (weights @ weights))
    height = np.clip(height, -MOST_PART * film, MOST_PART * film)
    film, height = (resampled(table, float(t_mm[asked][0]), pitch, fine) for table in (film, height))
    return _Steps(fine, film * height, film, variance)


def _film_inside(profiles: Floats, pitch: float, asked: slice) -> Floats:
    """Return the height of the film that begins at each sample asked for, from what lies inside, on neighbours too."""
    first, last = (round(reach / pitch) for reach in LEVEL_MM)
    size, ahead, samples = max(1, last - first), (first + last) // 2, profiles.shape[1]
    span = min(asked.start + ahead, samples - 1), min(asked.stop + ahead, samples)
    level = ranked(profiles, (LEVEL_ROWS, size), int(LEVEL_ROWS * size * LEVEL_PERCENT / 100.0), span)
    at = np.minimum(np.arange(asked.stop - asked.start), level.shape[1] - 1)
    return np.asarray(np.maximum(level[:, at], 0.0))


def _course(terms: tuple[float, float, float], lever: Floats) -> Floats:
    """Return places on stretches from place, slant and bow. [mm]"""
    place, slant, bow = terms
    return np.asarray(place + slant * lever + bow * (lever**2 - 1 / 3))


def _over(steps: _Steps, lever: Floats, slants: Floats, bows: Floats) -> tuple[Floats, Floats]:
    """Return place, slant and bow of all courses tried, (c, 3), and the gain of each, (c,).

    How much of the film's height a step seems to have hangs on the scan's own blur, so that share is fitted.
    """
    tried = np.flatnonzero((steps.fine_mm >= INWARD_MM[0]) & (steps.fine_mm <= INWARD_MM[1]))
    slant, bow = (terms.ravel() for terms in np.meshgrid(slants, bows, indexing="ij"))
    courses = slant[:, None] * lever + bow[:, None] * (lever**2 - 1 / 3)
    off = np.rint(courses / FINE_MM).astype(np.intp)
    told, film = (sums_along(table, off, tried[0], tried[-1] + 1) for table in (steps.told, steps.film**2))
    share = np.clip(told / np.maximum(film, 1e-12), 0.0, FULL_STEP[1])
    gains = (share * told - 0.5 * share**2 * film) / steps.variance
    places = np.tile(steps.fine_mm[tried], len(slant))
    terms = np.column_stack((places, np.repeat(slant, len(tried)), np.repeat(bow, len(tried))))
    return terms, gains.ravel()


def _best_course(steps: _Steps, lever: Floats) -> _Best:
    """Return the likeliest course: the best of all tried, looked for more finely about itself."""
    tried, likely = _over(steps, lever, SLANT_MM, BOW_MM)
    terms, gains = tried, likely
    for finer in (1, 4):
        best = terms[gains.argmax()]
        near = np.linspace(-0.75, 0.75, 7) / finer
        slants, bows = best[1] + near * np.diff(SLANT_MM)[0], best[2] + near * np.diff(BOW_MM)[0]
        terms, gains = _over(steps, lever, slants, bows)
    k = int(gains.argmax())
    between = FINE_MM * top_beside(*gains[k - 1 : k + 2]) if 0 < k < len(gains) - 1 else 0.0
    place, slant, bow = (float(term) for term in terms[k])
    chance = np.exp(likely - likely.max())
    counts = chance > LEAST_CHANCE
    chance = chance[counts] / chance[counts].sum()
    return _Best((place + between, slant, bow), float(gains[k]), tried[counts], chance)


def _doubts(best: _Best, slant: Floats, bow: Floats) -> Floats:
    """Return how far other courses that are as likely lie from the best one on some stretches, rms. (k,) [mm]

    `slant` and `bow` (k,) are what the course's are multiplied with there, see `_course`.
    """
    apart = np.abs((best.tried - best.terms) @ np.stack((np.ones_like(slant), slant, bow)))
    return np.asarray(np.sqrt(best.chance @ np.maximum(apart - 2 * FINE_MM, 0.0) ** 2))


def _share_on_line(steps: _Steps) -> float:
    """Return what part of the film steps on the line that was followed make, at the best place near it."""
    near = np.abs(steps.fine_mm) < ON_LINE_MM
    return float(
        (steps.told[:, near].sum(axis=0) / np.maximum((steps.film[:, near] ** 2).sum(axis=0), 1e-12)).max()
    )
