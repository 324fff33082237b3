"""Resolution of a scan from one slanted edge: the frequency at which half of the contrast is left."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats
from proofkit.errors import CalibrationError
from proofkit.scatter import robust_sd

BINS_PER_PX = 4
"""Positions are sorted into quarters of a pixel, as the slanted-edge method of ISO 12233 does."""

ANGLES_DEG = (2.0, 43.0)
"""An edge has to slant by this much against rows and columns, so that all quarters of a pixel are filled. [deg]"""

LEAST_SIDE_PX = 16
"""Smallest side of the box. [px]"""

LEAST_CONTRAST = 0.1
"""Least difference of light across the edge. [of the scanner's white]"""

SIGMA_OF_MTF50 = float(np.sqrt(np.log(2) / 2) / np.pi)
"""A Gaussian blur of s keeps half the contrast at 0.187391 / s (its transform is exp(-2 pi² s² f²))."""


@dataclass(frozen=True, slots=True)
class EdgeResponse:
    """What a slanted edge says."""

    mtf50_per_mm: float
    """Frequency at which half of the contrast is left. [1/mm]"""
    mtf10_per_mm: float
    """... a tenth. [1/mm]"""
    angle_deg: float
    """Slant of the edge against the nearer of rows and columns. [deg]"""
    noise: float
    """Standard deviation of pixels on the light side. [of the scanner's white]"""

    @property
    def blur_mm(self) -> float:
        """Standard deviation of the Gaussian with the same half contrast. [mm]"""
        return SIGMA_OF_MTF50 / self.mtf50_per_mm


def edge_response(light: Floats, px_mm: float) -> EdgeResponse:
    """Return the response to the edge in a picture.

    Parameters
    ----------
    light : Floats
        (h, w) linear light with one straight edge across it. [of the scanner's white]
    px_mm : float
        Side of a pixel. [mm]

    Raises
    ------
    CalibrationError
        If there is no such edge.

    Notes
    -----
    Rows are projected along the fitted edge into bins of a quarter pixel, differentiated with (-1/2, 0, 1/2), windowed
    about the peak and transformed; the filter's own response ``sin(2 pi f / 4) / (2 pi f / 4)`` is taken out. Pixels
    are told to the edge at right angles, so that frequencies are those across it. The window is flat over its middle
    half (Tukey's): the standard's Hamming window narrows a spread of 2 px by 1.5 % on a box of 60 px.

    References
    ----------
    .. [1] ISO 12233:2014, clause 6 (slanted-edge response), as public descriptions give it.
    """
    if min(light.shape) < LEAST_SIDE_PX:
        raise CalibrationError(
            f"The box of the slanted edge holds {light.shape[1]} x {light.shape[0]} px of the scan; {LEAST_SIDE_PX} px "
            "a side are needed. Mend edge under [capture] in edition.toml."
        )
    down, across = (np.abs(np.diff(light, axis=axis)).mean() for axis in (0, 1))
    picture = light if across >= down else light.T
    slope, offset = _edge(picture)
    angle = float(np.degrees(np.arctan(abs(slope))))
    if not ANGLES_DEG[0] <= angle <= ANGLES_DEG[1]:
        raise CalibrationError(
            f"The edge of the target slants by {angle:.1f} deg; {ANGLES_DEG[0]:g} to {ANGLES_DEG[1]:g} deg is allowed. "
            "Turn the target, or mend edge under [capture] in edition.toml."
        )
    spread = _derivative(picture, slope, offset)
    frequency, response = _transform(spread)
    return EdgeResponse(
        mtf50_per_mm=_first_below(frequency, response, 0.5) / px_mm,
        mtf10_per_mm=_first_below(frequency, response, 0.1) / px_mm,
        angle_deg=angle,
        noise=_noise(picture, slope, offset),
    )


def _edge(picture: Floats) -> tuple[float, float]:
    """Return slope [px per row] and offset [px] of an edge that runs down a picture."""
    rows, columns = picture.shape
    step = np.diff(picture, axis=1)
    contrast = abs(float(np.median(picture[:, -2:]) - np.median(picture[:, :2])))
    if contrast < LEAST_CONTRAST:
        raise CalibrationError(
            f"No edge was found in the box of the target: its sides differ by {contrast:.2f} of the scanner's white, "
            f"at least {LEAST_CONTRAST:g} is needed. Mend edge under [capture] in edition.toml."
        )
    sign = np.sign(np.median(picture[:, -2:]) - np.median(picture[:, :2]))
    weight = np.maximum(sign * step, 0) ** 2
    place = np.arange(columns - 1) + 0.5
    row = np.arange(rows)
    centre = (weight @ place) / np.maximum(weight.sum(axis=1), 1e-12)
    for _ in range(3):
        slope, offset = np.polyfit(row, centre, 1)
        # Only what lies near the edge is its own; noise far off would pull it to the middle.
        near = np.abs(place[None, :] - (slope * row + offset)[:, None]) < EDGE_REACH_PX
        centre = ((weight * near) @ place) / np.maximum((weight * near).sum(axis=1), 1e-12)
        centre = np.where((weight * near).sum(axis=1) > 0, centre, slope * row + offset)
    return float(slope), float(offset)


EDGE_REACH_PX = 6.0
"""The edge's own gradient lies within this. [px]"""


def _distance(picture: Floats, slope: float, offset: float) -> Floats:
    """Return how far each pixel lies across the edge. [px]"""
    rows, columns = np.indices(picture.shape)
    return np.asarray((columns - slope * rows - offset) / np.hypot(1.0, slope))


def _derivative(picture: Floats, slope: float, offset: float) -> Floats:
    """Return the line spread about its peak, windowed, a sample each quarter of a pixel."""
    from scipy.signal.windows import tukey  # noqa: PLC0415  0.3 s and 26 MB, and few scans have an edge

    distance = _distance(picture, slope, offset)
    reach = min(float(-distance.min()), float(distance.max()))
    count = int(reach * BINS_PER_PX) - 1
    number = np.floor(distance * BINS_PER_PX + 0.5).astype(np.intp) + count
    inside = (number >= 0) & (number <= 2 * count)
    total = np.bincount(number[inside], weights=picture[inside], minlength=2 * count + 1)
    filled = np.bincount(number[inside], minlength=2 * count + 1)
    # Pixels fill a bin unevenly: its mean belongs to their mean place.
    place = np.bincount(number[inside], weights=distance[inside], minlength=2 * count + 1)
    known = np.flatnonzero(filled)
    middles = (np.arange(len(filled)) - count) / BINS_PER_PX
    profile = np.interp(middles, place[known] / filled[known], total[known] / filled[known])
    spread = np.zeros_like(profile)
    spread[1:-1] = (profile[2:] - profile[:-2]) / 2
    peak = round(float(np.sum(np.arange(len(spread)) * spread**2) / np.sum(spread**2)))
    half = min(peak, len(spread) - 1 - peak, int(WINDOW_PX * BINS_PER_PX))
    return np.asarray(spread[peak - half : peak + half + 1] * tukey(2 * half + 1, 0.5))


WINDOW_PX = 24.0
"""Half length of the window; beyond it there is only noise. [px]"""


def _transform(spread: Floats) -> tuple[Floats, Floats]:
    """Return frequencies [cycles per px] and the share of contrast left."""
    padded = max(1024, 4 * len(spread))
    response: Floats = np.abs(np.fft.rfft(spread, padded)).astype(np.float64)
    frequency: Floats = np.asarray(np.fft.rfftfreq(padded, 1 / BINS_PER_PX), dtype=np.float64)
    kept = frequency < 1.0
    frequency, response = frequency[kept], response[kept] / response[0]
    return frequency, np.asarray(response / np.sinc(2 * frequency / BINS_PER_PX))


def _first_below(frequency: Floats, response: Floats, level: float) -> float:
    """Return where the response first falls below a level, linear between samples; NaN where it never does."""
    below = np.flatnonzero(response < level)
    if not len(below) or below[0] == 0:
        return float("nan")
    k = below[0]
    part = (response[k - 1] - level) / (response[k - 1] - response[k])
    return float(frequency[k - 1] + part * (frequency[k] - frequency[k - 1]))


def _noise(picture: Floats, slope: float, offset: float) -> float:
    """Return the scatter of pixels on the lighter side, away from the edge."""
    distance = _distance(picture, slope, offset)
    sides = [picture[distance < -EDGE_REACH_PX], picture[distance > EDGE_REACH_PX]]
    light = max((side for side in sides if len(side)), key=lambda side: float(np.mean(side)), default=picture)
    return robust_sd(light)
