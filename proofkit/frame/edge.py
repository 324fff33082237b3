"""Follow one candidate line at full resolution: what is on it, exactly where, and how far it reaches."""

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from proofkit.arrays import FULL_SCALE, Floats, Mask, Plane
from proofkit.frame.candidates import Line
from proofkit.frame.kernels import straighten
from proofkit.frame.profile import Mark, find_mark

PIECE_MM = 1.2
"""Length of a piece of edge whose profile is read; pencil strokes and engraved lines spoil few of them. [mm]"""
PRESENCE_MM = 0.8
"""The same when only asked how far a mark reaches. [mm]"""
COARSE_PIECES = 100
COARSE_COLUMNS = 12
"""When choosing among candidates, so many pieces are read at most, and so many columns of each."""
SEARCH_MM = 1.2
"""How far a candidate may lie from the mark: shade and film seen from afar draw it outward. [mm]"""
REACH_MM = 2.5
"""Profiles reach so far to both sides at first. [mm]"""
NEAR_MM = 2.0
"""And so far once the mark is found, which is then looked for within `NEAR_SEARCH_MM`. [mm]"""
NEAR_SEARCH_MM = 0.6
SHADE_MM = 0.4
"""Shade and bevel ink reach this far beyond the mark and more weakly farther. [mm]"""
TURN_MM = 0.5
"""A candidate's ends may be off by this much: its slant comes from strips. [mm]"""
WAVE_ORDER = 6
"""Degree of the polynomial that follows a wavy edge: bends of a fifth of its length. [-]"""
WAVE_MM = 0.4
"""Uneven stretch moves parts of an edge by less than this. [mm]"""
BLOCK = 5
"""Pieces that are read as one when the mark changes along an edge."""
BLOCK_SCATTER_MM = 0.15
"""Marks of blocks that scatter more are not trusted. [mm]"""
FAINT_PX = 1.0
"""Pieces whose place is less certain cannot be followed one by one, only all together. [px]"""
NEIGHBOURS = 5
"""Pieces that are matched together."""
DRIFT_MM = 0.3
"""Matching may move a line by this from where it was first laid. [mm]"""
BLOCK = 5
"""Pieces that are read as one when the mark changes along an edge."""
BLOCK_SCATTER_MM = 0.15
"""Marks of blocks that scatter more are not trusted. [mm]"""
FAINT_PX = 1.0
"""Pieces whose place is less certain cannot be followed one by one, only all together. [px]"""
NEIGHBOURS = 5
"""Pieces that are matched together."""
ROUNDS = 4
"""Of finding the mark on the mean profile and bending the line to the pieces; two are enough for most sheets."""
PAPER_QUANTILE = 0.3
"""Of the densities outside: a little below the median, as writing on the margin is darker than paper. [-]"""
WINDOW_MM = 0.4
"""Half the width about the mark that decides where a piece of it lies. [mm]"""
BOW_MM = 0.3
"""A sheet bows an edge by no more than this. [mm]"""


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
class Edge:
    """A candidate that was followed and found to carry something."""

    line: Line
    inward: int
    """1 when the plate lies toward growing rows, else -1."""
    mark: Mark
    outside: float
    """Level of the paper just outside, above rough paper. [D]"""
    unrest: tuple[float, float]
    """Scatter of pieces outside and inside the mark: a scanner's lid has none of paper's grain. [D]"""
    u_px: float
    """Standard uncertainty of the line's place. [px]"""


def follow(view: View, line: Line, inward: int, span_px: tuple[float, float]) -> Edge | None:
    """Return a straight edge near a candidate line, or None when there is none; few columns are read.

    Parameters
    ----------
    view : View
    line : Line
        Where to look.
    inward : int
        1 when the plate lies toward growing rows, else -1.
    span_px : (float, float)
        Stretch along which the edge was seen.
    """
    length_mm = (span_px[1] - span_px[0]) / view.along
    bounds = _bounds(view, span_px, max(PIECE_MM, length_mm / COARSE_PIECES))
    step = max(1, int((bounds[1] - bounds[0]) // COARSE_COLUMNS))
    pieces = _read(view, line, inward, bounds, (REACH_MM, SEARCH_MM), step)
    if pieces is None:
        return None
    line = _turn(line, pieces, inward, TURN_MM * view.across)
    edge = None
    for reach, search in ((REACH_MM, SEARCH_MM), (NEAR_MM, NEAR_SEARCH_MM)):
        edge = _improve(view, line, inward, bounds, (reach, search), (step, 1))
        if edge is None:
            return None
        line = edge.line
    return edge


def refine(view: View, edge: Edge, span_px: tuple[float, float]) -> Edge | None:
    """Return the edge between its corners from every column, with its bow; None when it cannot be followed."""
    bounds = _bounds(view, span_px)
    found = _improve(view, edge.line, edge.inward, bounds, (NEAR_MM, NEAR_SEARCH_MM), (1, 2))
    if found is None:
        return None
    if np.abs(found.line.at(bounds) - edge.line.at(bounds)).max() > DRIFT_MM * view.across:
        # pieces that change along the edge cannot be matched with each other
        found = replace(found, line=edge.line)
    return _by_blocks(view, _by_blocks(view, found, bounds), bounds)


def _by_blocks(view: View, edge: Edge, bounds: Floats) -> Edge:
    """Return the edge laid through marks read on block after block, or as it was when too few can be read.

    Film changes along an edge, from a step to a mere line of ink: then pieces do not look like the median of all.
    """
    pieces = _read(view, edge.line, edge.inward, bounds, (NEAR_MM, NEAR_SEARCH_MM), 1)
    if pieces is None:
        return edge
    d, places, kinds = [], [], []
    whole = len(pieces.density) // BLOCK * BLOCK
    for k in range(0, whole, BLOCK):
        block = replace(pieces, density=pieces.density[k : k + BLOCK])
        mark, _ = _mark(block, NEAR_SEARCH_MM)
        if mark is not None:
            d.append(float(pieces.centres_px[k : k + BLOCK].mean()) - edge.line.middle)
            places.append(mark.place_mm * view.across)
            kinds.append(mark.kind)
    if len(d) < max(6, 0.6 * whole / BLOCK):
        return edge
    reach = max(np.abs(d))
    coefficients, scatter = _course(np.array(d) / reach, np.array(places), 2)
    u_px = scatter / np.sqrt(len(d) - 3)
    if scatter > BLOCK_SCATTER_MM * view.across or u_px > 2.0 * max(edge.u_px, 0.3):
        return edge
    move = edge.inward * coefficients / reach ** np.arange(3)
    line = Line(edge.line.middle, edge.line.place + move[0], edge.line.slope + move[1], edge.line.bend + move[2])
    return replace(edge, line=line, mark=replace(edge.mark, kind=max(set(kinds), key=kinds.count)), u_px=u_px)


def presence(view: View, edge: Edge, span_px: tuple[float, float]) -> tuple[Floats, Floats]:
    """Return how much of the mark is found along the whole length of the scan.

    Parameters
    ----------
    view : View
    edge : Edge
    span_px : (float, float)
        Stretch whose median profile serves as the pattern.

    Returns
    -------
    centres, share : (n,), (n,)
        Middle of each piece [px]; projection of its profile on the pattern, 0 nothing, 1 as in the span, cut to
        -1 .. 2, NaN outside the scan.
    """
    bounds = _bounds(view, (-0.5, view.plane.shape[1] - 0.5), PRESENCE_MM)
    step = max(1, int((bounds[1] - bounds[0]) // COARSE_COLUMNS))
    centres = 0.5 * (bounds[1:] + bounds[:-1])
    share = np.full(len(centres), np.nan)
    pieces = _read(view, edge.line, edge.inward, bounds, (NEAR_MM, NEAR_SEARCH_MM), step)
    if pieces is None:
        return centres, share
    near = pieces.density[:, np.abs(pieces.t_mm) <= WINDOW_MM]
    own = (pieces.centres_px >= span_px[0]) & (pieces.centres_px <= span_px[1])
    if own.sum() >= 4:
        pattern = np.median(near[own], axis=0)
        share[pieces.whole] = np.clip(near @ pattern / max(float(pattern @ pattern), 1e-12), -1.0, 2.0)
    return centres, share


@dataclass(frozen=True, slots=True, eq=False)
class _Pieces:
    """Profiles across an edge, one for each piece that lies wholly in the scan."""

    whole: Mask
    """(pieces,) which ones."""
    centres_px: Floats
    """(n,) along the edge. [px]"""
    density: Floats
    """(n, m) above the paper outside the same piece. [D]"""
    outside: Floats
    """(n,) that paper above rough paper. [D]"""
    t_mm: Floats
    """(m,) inward positive. [mm]"""


def _bounds(view: View, span_px: tuple[float, float], piece_mm: float = PIECE_MM) -> Floats:
    count = max(8, round((span_px[1] - span_px[0]) / view.along / piece_mm))
    return np.linspace(span_px[0], span_px[1], count + 1)


def _read(
    view: View, line: Line, inward: int, bounds: Floats, reach_search: tuple[float, float], step: int
) -> _Pieces | None:
    """Return the profiles, or None when fewer than 6 or fewer than half of the pieces lie in the scan."""
    reach_mm, search_mm = reach_search
    half = round(reach_mm * view.across)
    numbers = np.array([line.middle, line.place, line.slope, line.bend])
    light = straighten(view.plane, numbers, bounds, inward, half, step)
    whole = np.isfinite(light[:, 0])
    if whole.sum() < max(6, 0.3 * len(light)):
        return None
    density = -np.log10(np.maximum(light[whole].astype(np.float64), 0.001 * FULL_SCALE) / view.paper)
    t_mm = np.arange(-half, half + 1) / view.across
    outside = _paper_level(density[:, _is_paper(t_mm, search_mm)])
    centres = 0.5 * (bounds[1:] + bounds[:-1])[whole]
    return _Pieces(whole, centres, density - outside[:, None], outside, t_mm)


def _paper_level(paper: Floats) -> Floats:
    """Return the level of each row: its lower quantile, raised by what the quantile lies below most rows' medians."""
    ordered = np.sort(paper, axis=1)
    low, middle = ordered[:, int(PAPER_QUANTILE * paper.shape[1])], ordered[:, paper.shape[1] // 2]
    return np.asarray(low + np.median(middle - low))


def _is_paper(t_mm: Floats, search_mm: float) -> Mask:
    """Return the part of the profiles that is taken for bare paper: 0.7 mm, beyond the search and any shade."""
    near = -(search_mm + SHADE_MM)
    return np.asarray((t_mm < near) & (t_mm > near - 0.7))


def _turn(line: Line, pieces: _Pieces, inward: int, most_px: float) -> Line:
    """Return the line turned so that the pieces agree best.

    When all pieces, moved along as the turned line says, agree, their mean profile is steepest.
    """
    reach = float(np.abs(pieces.centres_px - line.middle).max())
    lever = (pieces.centres_px - line.middle) / reach
    clipped = np.clip(pieces.density, -0.15, 0.15)
    samples = np.arange(clipped.shape[1])
    best, best_slant = -1.0, 0.0
    for slant in np.linspace(-most_px, most_px, 2 * round(most_px) + 1):
        moved = np.rint(slant * lever).astype(np.intp)[:, None] + samples
        mean = np.take_along_axis(clipped, np.clip(moved, 0, len(samples) - 1), axis=1).mean(axis=0)
        steepness = float((np.diff(mean) ** 2).sum())
        if steepness > best:
            best, best_slant = steepness, float(slant)
    return Line(line.middle, line.place, line.slope + inward * best_slant / reach, line.bend)


def _improve(
    view: View,
    line: Line,
    inward: int,
    bounds: Floats,
    reach_search: tuple[float, float],
    step_order: tuple[int, int],
) -> Edge | None:
    """Find the mark on the median profile and lay the line through the pieces, once."""
    pieces = _read(view, line, inward, bounds, reach_search, step_order[0])
    if pieces is None:
        return None
    mark, middle = _mark(pieces, reach_search[1])
    if mark is None:
        return None
    d = pieces.centres_px - line.middle
    shifts = np.zeros(len(d))
    followable = len(d) > 3 * WAVE_ORDER and _error_px(pieces, middle, mark) < FAINT_PX
    for _ in range(step_order[1] if followable else 0):
        # uneven stretch makes the edge wavy: laid straight first, the mean profile is as sharp as the scan
        shifts += _wave(d, _matched(_move(pieces, shifts), middle, mark, view))
        straight, mean = _mark(_move(pieces, shifts), reach_search[1])
        if straight is None:
            break
        mark, middle = straight, mean
    shifts = shifts + _shifts(_move(pieces, shifts), middle, mark)
    move, u_line = _fit(d, shifts, step_order[1], view)
    place = line.place + inward * (mark.place_mm * view.across + move[0])
    moved = Line(line.middle, place, line.slope + inward * move[1], line.bend + inward * move[2])
    u_px = float(np.hypot(u_line, mark.u_mm * view.across))
    d = pieces.t_mm - mark.place_mm
    unrest = (_scatter(pieces, middle, (d > -1.2) & (d < -0.5)), _scatter(pieces, middle, (d > 0.5) & (d < 1.2)))
    return Edge(moved, inward, mark, float(np.median(pieces.outside)), unrest, u_px)


def _mark(pieces: _Pieces, search_mm: float) -> tuple[Mark | None, Floats]:
    """Return the mark on the median profile, and that profile."""
    middle = np.median(pieces.density, axis=0)
    noise = _noise_of_median(pieces, middle, search_mm)
    return find_mark(middle, pieces.t_mm, noise, search_mm), middle


def _wave(d: Floats, shifts: Floats) -> Floats:
    """Return the smooth part of the shifts along the edge, their median taken off. [px]"""
    coefficients, _ = _robust(np.polynomial.chebyshev.chebvander(d / np.abs(d).max(), WAVE_ORDER), shifts)
    wave = np.polynomial.chebyshev.chebval(d / np.abs(d).max(), coefficients)
    return np.asarray(wave - np.median(wave))


def _course(u: Floats, values: Floats, order: int) -> tuple[Floats, float]:
    """Return constant, slope and bend over u, -1 to 1, and the scatter; no bend below 3 of its standard errors."""
    course = np.zeros(3)
    for terms in range(order + 1, 1, -1):
        design = np.vander(u, terms, increasing=True)
        coefficients, scatter = _robust(design, values)
        error = scatter * float(np.sqrt(np.linalg.pinv(design.T @ design)[-1, -1]))
        if terms == 2 or abs(coefficients[-1]) > 3 * error:
            course[:terms] = coefficients
            break
    return course, scatter


def _robust(design: Floats, values: Floats) -> tuple[Floats, float]:
    """Return coefficients and scatter of a robust linear fit.

    Huber's weights (turning point 1.5 scatters) first, as they always converge, then Tukey's (4.685 scatters), which
    drop what is far off altogether; both numbers are the textbook ones.
    """
    weights = np.ones(len(values))
    coefficients = np.zeros(design.shape[1])
    scatter = 1.0
    for turn in range(10):
        root = np.sqrt(weights)
        coefficients = np.linalg.lstsq(design * root[:, None], values * root, rcond=None)[0]
        rest = np.abs(values - design @ coefficients)
        scatter = max(1.4826 * float(np.median(rest)), 0.02)
        if turn < 5:
            weights = np.minimum(1.0, 1.5 * scatter / np.maximum(rest, 1e-9))
        else:
            weights = np.maximum(0.0, 1.0 - (rest / (4.685 * scatter)) ** 2) ** 2
    return coefficients, scatter


def _move(pieces: _Pieces, shifts: Floats) -> _Pieces:
    """Return the pieces with each profile moved outward by its shift. [px]"""
    last = len(pieces.t_mm) - 1
    at = np.clip(np.arange(last + 1) + shifts[:, None], 0, last)
    low = np.minimum(at.astype(np.intp), last - 1)
    before = np.take_along_axis(pieces.density, low, axis=1)
    after = np.take_along_axis(pieces.density, low + 1, axis=1)
    return replace(pieces, density=before + (at - low) * (after - before))


def _scatter(pieces: _Pieces, middle: Floats, chosen: Mask) -> float:
    """Return the robust scatter of pieces about the median profile, each piece's own level taken off. [D]

    1.4826 makes a median of absolute values the standard deviation of normal ones (textbook).
    """
    rest = pieces.density[:, chosen] - middle[chosen]
    rest = rest - np.median(rest, axis=1)[:, None]
    return 1.4826 * float(np.median(np.abs(rest)))


def _noise_of_median(pieces: _Pieces, middle: Floats, search_mm: float) -> float:
    """Return the standard deviation of the median of all pieces on bare paper. [D]

    From the pieces' scatter about their median; the standard error of a median of n normal values is 1.2533 times
    their standard deviation over the root of n (textbook). Not less than what is seen along the median itself.
    """
    paper = _is_paper(pieces.t_mm, search_mm)
    scatter = _scatter(pieces, middle, paper)
    return max(1.2533 * scatter / np.sqrt(len(pieces.density)), float(middle[paper].std()), 5e-5)


def _weights(pieces: _Pieces, middle: Floats, mark: Mark, outside_mm: float, inside_mm: float) -> Floats:
    """Return the weight of each sample about the mark: inverse square of its scatter over the pieces.

    So image inside the window counts little.
    """
    scatter = 1.4826 * np.median(np.abs(pieces.density - middle), axis=0)
    d = pieces.t_mm - mark.place_mm
    inside = (d > -outside_mm) & (d < inside_mm)
    return np.asarray(inside / np.maximum(scatter, 0.5 * np.median(scatter) + 1e-6) ** 2)


def _matched(pieces: _Pieces, middle: Floats, mark: Mark, view: View) -> Floats:
    """Return how far each piece lies inward of the median profile, by trying shifts. [px]

    Squared differences are summed over neighbouring pieces, as a wave is longer than these; a parabola through the
    lowest sum and its neighbours gives parts of a pixel.
    """
    weight = _weights(pieces, middle, mark, 0.8, WINDOW_MM)
    most = round(WAVE_MM * view.across)
    used = np.flatnonzero(weight)
    used = used[(used >= most) & (used < len(middle) - most)]
    cost = np.stack(
        [
            ((np.clip(pieces.density[:, used + s] - middle[used], -0.1, 0.1)) ** 2) @ weight[used]
            for s in range(-most, most + 1)
        ],
        axis=1,
    )
    cost = ndimage.uniform_filter1d(cost, min(NEIGHBOURS, len(cost)), axis=0, mode="nearest")
    low = np.clip(cost.argmin(axis=1), 1, 2 * most - 1)
    before, here, after = (np.take_along_axis(cost, (low + k)[:, None], axis=1)[:, 0] for k in (-1, 0, 1))
    bend = np.maximum(before - 2 * here + after, 1e-12)
    return np.asarray(low - most + np.clip(0.5 * (before - after) / bend, -1, 1))


def _shifts(pieces: _Pieces, middle: Floats, mark: Mark) -> Floats:
    """Return how far each piece lies inward of the median profile. [px]

    One step of Gauss and Newton: the difference from the median profile projected on its slope.
    """
    slope, weight, power = _slope(pieces, middle, mark)
    return np.asarray(-((pieces.density - middle) @ (weight * slope)) / power)


def _error_px(pieces: _Pieces, middle: Floats, mark: Mark) -> float:
    """Return the standard error of the place of one piece, if its samples were independent. [px]"""
    return float(1.0 / np.sqrt(_slope(pieces, middle, mark)[2]))


def _slope(pieces: _Pieces, middle: Floats, mark: Mark) -> tuple[Floats, Floats, float]:
    """Return the slope of the median profile, the samples' weights, and their sum of slope squared."""
    slope = np.gradient(np.convolve(middle, [0.25, 0.5, 0.25], mode="same"))
    weight = _weights(pieces, middle, mark, WINDOW_MM, 0.7 * WINDOW_MM)
    return slope, weight, max(float((weight * slope**2).sum()), 1e-12)


def _fit(d: Floats, shifts: Floats, order: int, view: View) -> tuple[Floats, float]:
    """Return constant, slope and bend of the shifts along the edge, and the uncertainty of the constant. [px]

    The mean over the pieces is taken off: the median profile is where the pieces are on average.
    """
    reach = float(np.abs(d).max())
    most = SEARCH_MM * view.across
    move, scatter = _course(d / reach, np.clip(shifts, -most, most), order)
    move[2] = np.clip(move[2], -BOW_MM * view.across, BOW_MM * view.across)
    move[0] -= float(np.vander(d / reach, 3, increasing=True).mean(axis=0) @ move)
    return move / reach ** np.arange(3), scatter / np.sqrt(max(1, len(d) - order - 1))
