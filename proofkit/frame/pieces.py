"""Profiles across an edge, piece by piece: read from the plane, their paper level taken off."""

from dataclasses import dataclass, replace

import numpy as np

from proofkit.arrays import FULL_SCALE, Floats, Mask, Plane
from proofkit.frame.candidates import Line
from proofkit.frame.kernels import straighten
from proofkit.frame.matching_kernels import moved_by
from proofkit.frame.piece_kernels import LEAST_NOISE, levelled, marks_on_blocks, scatter_in
from proofkit.frame.profile import Mark, ReadMark, mark_of
from proofkit.frame.sharp import step_filter

PIECE_MM = 1.2
"""Length of a piece of edge whose profile is read; pencil strokes and engraved lines spoil few of them. [mm]"""
SHADE_MM = 0.4
"""Shade and bevel ink reach this far beyond the mark and more weakly farther. [mm]"""


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
    paper: tuple[int, int]
    """First of the samples that are bare paper, and the first beyond them."""
    t_mm: Floats
    """(m,) inward positive. [mm]"""


def bounds_of(view: View, span_px: tuple[float, float], piece_mm: float = PIECE_MM) -> Floats:
    """Return the limits of pieces of about `piece_mm` along a span, 8 pieces at least. (n + 1,) [px]"""
    count = max(8, round((span_px[1] - span_px[0]) / view.along / piece_mm))
    return np.linspace(span_px[0], span_px[1], count + 1)


def read(
    view: View, line: Line, inward: int, bounds: Floats, reach_search: tuple[float, float], step: int
) -> Pieces | None:
    """Return the profiles, or None when fewer than 6 or a third of the pieces lie in the scan, or none has paper."""
    reach_mm, search_mm = reach_search
    half = round(reach_mm * view.across)
    numbers = np.array([line.middle, line.place, line.slope, line.bend])
    light = straighten(view.plane, numbers, bounds, inward, half, step)
    whole = np.isfinite(light[:, 0])
    if whole.sum() < max(6, 0.3 * len(light)):
        return None
    # paper lies beyond the search and any shade; of two halves of it the quieter one is taken
    far, between, near = (
        max(half - int(np.ceil((search_mm + SHADE_MM + k) * view.across)) + 1, 0) for k in (0.8, 0.4, 0.0)
    )
    if far == near:
        return None
    ratio = np.maximum(light[whole], np.float32(0.001 * FULL_SCALE)) / np.float32(view.paper)
    density, outside, is_near = levelled(-np.log10(ratio).astype(np.float64), (far, between, near))
    paper = (between, near) if is_near else (far, between)
    centres = 0.5 * (bounds[1:] + bounds[:-1])[whole]
    return Pieces(whole, centres, density, outside, paper, np.arange(-half, half + 1) / view.across)


def move(pieces: Pieces, shifts: Floats) -> Pieces:
    """Return the pieces with each profile moved outward by its shift. [px]"""
    return replace(pieces, density=moved_by(pieces.density, shifts))


def mark_on(pieces: Pieces, search_mm: float) -> tuple[Mark | None, Floats]:
    """Return the mark on the median profile, and that profile."""
    reads, middles = _marks(pieces, len(pieces.density), search_mm)
    return mark_of(reads[0]), middles[0]


def marks_by_number(pieces: Pieces, size: int, search_mm: float) -> list[tuple[float, Mark | None]]:
    """Return the marks on the median profiles of so many neighbours at a time, with the middle of each. [px]"""
    reads, _ = _marks(pieces, size, search_mm)
    return [(along, mark_of(read)) for along, read in zip(middles_of(pieces, size), reads, strict=True)]


def middles_of(pieces: Pieces, size: int) -> list[float]:
    """Return the middles along the edge of so many neighbours at a time. [px]"""
    blocks = len(pieces.centres_px) // size
    return [float(place) for place in pieces.centres_px[: blocks * size].reshape(blocks, size).mean(axis=1)]


def _marks(pieces: Pieces, size: int, search_mm: float) -> tuple[list[ReadMark], Floats]:
    steps = step_filter(float(pieces.t_mm[1] - pieces.t_mm[0]))
    reads, middles = marks_on_blocks(pieces.density, size, pieces.paper, pieces.t_mm, search_mm, steps)
    return [ReadMark(int(kind), *numbers) for kind, *numbers in reads.tolist()], middles


def noise_of_profiles(profiles: Floats, paper: tuple[int, int]) -> float:
    """Return the standard deviation of one sample of profiles where bare paper lies, 5e-5 at least. [D]"""
    return max(scatter_in(profiles, np.zeros(profiles.shape[1]), *paper), LEAST_NOISE)


def scatter_of(pieces: Pieces, middle: Floats, from_mm: float, to_mm: float) -> float:
    """Return the robust scatter of pieces about the median profile between two distances from the line. [D]

    Each piece's own level is taken off. NaN where no place lies between: a mark at the end of the profiles has nothing
    beyond it.
    """
    first, last = np.searchsorted(pieces.t_mm, (from_mm, to_mm), side="right")
    return scatter_in(pieces.density, middle, int(first), int(last))
