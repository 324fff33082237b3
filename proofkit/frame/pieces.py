"""Profiles across an edge, piece by piece: read from the plane, their paper level taken off."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Mask, Plane
from proofkit.frame.candidates import Line
from proofkit.frame.kernels import straighten
from proofkit.frame.matching_kernels import moved_by
from proofkit.frame.medians import median, median_profile
from proofkit.frame.profile import Mark, find_mark
from proofkit.scatter import OF_MEDIAN

PIECE_MM = 1.2
"""Length of a piece of edge whose profile is read; pencil strokes and engraved lines spoil few of them. [mm]"""
SHADE_MM = 0.4
"""Shade and bevel ink reach this far beyond the mark and more weakly farther. [mm]"""
PAPER_QUANTILE = 0.3
"""Of the densities outside: a little below the median, as writing on the margin is darker than paper. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """A plane in which the edge runs nearly along the rows."""

    plane: Plane
    """Transposed for the left and right edges. [1/65535]"""
    across: float
    """Resolution across the edge. [px/mm]"""
    along: float
    """Resolution along the edge. [px/mm]"""
    paper: float
    """Rough level of bare paper. [1/65535]"""


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Profiles across an edge, one for each piece that lies wholly in the scan."""

    whole: Mask
    """(pieces,) which ones."""
    centres_px: Floats
    """(n,) along the edge. [px]"""
    density: Floats
    """(n, m) above the paper outside the same piece. [D]"""
    outside: Floats
    """(n,) that paper above rough paper. [D]"""
    paper: Mask
    """(m,) samples that are bare paper."""
    t_mm: Floats
    """(m,) inward positive. [mm]"""


def bounds_of(view: View, span_px: tuple[float, float], piece_mm: float = PIECE_MM) -> Floats:
    """Return the limits of pieces of about `piece_mm` along a span, 8 pieces at least. (n + 1,) [px]"""
    count = max(8, round((span_px[1] - span_px[0]) / view.along / piece_mm))
    return np.linspace(span_px[0], span_px[1], count + 1)


def read(
    view: View, line: Line, inward: int, bounds: Floats, reach_search: tuple[float, float], step: int
) -> Pieces | None:
    """Return the profiles, or None when fewer than 6 or a third of the pieces lie in the scan."""
    reach_mm, search_mm = reach_search
    half = round(reach_mm * view.across)
    numbers = np.array([line.middle, line.place, line.slope, line.bend])
    light = straighten(view.plane, numbers, bounds, inward, half, step)
    whole = np.isfinite(light[:, 0])
    if whole.sum() < max(6, 0.3 * len(light)):
        return None
    density = -np.log10(np.maximum(light[whole].astype(np.float64), 0.001 * FULL_SCALE) / view.paper)
    t_mm = np.arange(-half, half + 1) / view.across
    paper = _paper(density, t_mm, search_mm)
    outside = _paper_level(density[:, paper])
    centres = 0.5 * (bounds[1:] + bounds[:-1])[whole]
    return Pieces(whole, centres, density - outside[:, None], outside, paper, t_mm)


def _paper_level(paper: Floats) -> Floats:
    """Return the level of each row: its lower quantile, raised by what the quantile lies below most rows' medians."""
    ordered = np.sort(paper, axis=1)
    low, middle = ordered[:, int(PAPER_QUANTILE * paper.shape[1])], ordered[:, paper.shape[1] // 2]
    return np.asarray(low + median(middle - low))


def _paper(density: Floats, t_mm: Floats, search_mm: float) -> Mask:
    """Return the part of the profiles taken for bare paper: beyond the search and any shade, where it is quieter.

    Of two halves of 0.8 mm the one whose median profile varies less: the other may hold writing.
    """
    near = -(search_mm + SHADE_MM)
    halves = [np.asarray((t_mm < near - k) & (t_mm > near - k - 0.4)) for k in (0.0, 0.4)]
    middle = median_profile(density)
    return min(halves, key=lambda half: float(middle[half].std()) if half.any() else np.inf)


def move(pieces: Pieces, shifts: Floats) -> Pieces:
    """Return the pieces with each profile moved outward by its shift. [px]"""
    return replace(pieces, density=moved_by(pieces.density, shifts))


def mark_on(pieces: Pieces, search_mm: float) -> tuple[Mark | None, Floats]:
    """Return the mark on the median profile, and that profile."""
    middle = median_profile(pieces.density)
    noise = noise_of_median(pieces, middle)
    return find_mark(middle, pieces.t_mm, noise, search_mm), middle


def by_number(pieces: Pieces, size: int) -> list[tuple[float, Pieces]]:
    """Return the pieces by so many neighbours, with the middle of each along the edge. [px]"""
    return [
        (float(pieces.centres_px[k : k + size].mean()), replace(pieces, density=pieces.density[k : k + size]))
        for k in range(0, len(pieces.density) - size + 1, size)
    ]


def noise_of_profiles(profiles: Floats, paper: Mask) -> float:
    """Return the standard deviation of one sample of profiles where bare paper lies, 5e-5 at least. [D]"""
    there = profiles[:, paper]
    return max(OF_MEDIAN * median(np.abs(there - median_profile(there.T)[:, None])), 5e-5)


def scatter_of(pieces: Pieces, middle: Floats, chosen: Mask) -> float:
    """Return the robust scatter of pieces about the median profile, each piece's own level taken off. [D]

    NaN where no place is chosen: a mark at the end of the profiles has nothing beyond it.
    """
    if not chosen.any():
        return float("nan")
    rest = pieces.density[:, chosen] - middle[chosen]
    rest = rest - median_profile(rest.T)[:, None]
    return float(OF_MEDIAN * median(np.abs(rest)))


def noise_of_median(pieces: Pieces, middle: Floats) -> float:
    """Return the standard deviation of the median of all pieces on bare paper. [D]

    From the pieces' scatter about their median; the standard error of a median of n normal values is 1.2533 times
    their standard deviation over the root of n (textbook). Not less than what is seen along the median itself.
    """
    scatter = scatter_of(pieces, middle, pieces.paper)
    of_pieces = float(1.2533 * scatter / np.sqrt(len(pieces.density)))
    return max(of_pieces, float(middle[pieces.paper].std()), 5e-5)
