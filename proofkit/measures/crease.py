"""Creases: straight slits that printed nothing, across lines and film alike."""

from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Points
from proofkit.laying.ink import ink_cells
from proofkit.laying.rectify import plate_box
from proofkit.laying.reference import PITCHES_MM, MatchPictures
from proofkit.measures.block_kernels import block_percentiles
from proofkit.measures.crease_kernels import Ground, changes, lines_and_open, lost_cells, spread_ground
from proofkit.measures.strip_kernels import counts_along, fullest_strip, longest_filled
from proofkit.measures.types import LaidSheet
from proofkit.scatter import robust_sd

LEVEL = 2
"""Pictures of 0.1 mm are compared: a slit of 0.1 to 0.4 mm fills one to four cells."""

FILM_BLOCK_MM = 4.0
FILM_PERCENT = 25
"""The ground of a block is its lightest quarter. [%]"""

DARK_CODES = 25.0
"""A cell of the standard this much darker than its ground is line. [codes of ink]"""

LOST_SHARE = 0.4
"""A line's cell is lost when less than this share of its darkness is left. [-]"""

FLAT_CODES = 8.0
"""A cell within this of its ground is open. [codes]"""

SLIT_CODES = 6.0
"""An open cell this much lighter than its film (3 % of reflectance) is bare. [codes]"""

SLIT_NOISES = 4.0
MOST_TOLD = 20_000
"""So many open cells, of evenly taken rows, tell the scatter to 1 %."""

STRIP_MM = 0.3
BESIDE_STRIPS = 3
"""Strips are held against those so many away on both sides."""

TURN_STEP_DEG = 0.5
CANDIDATES = 12
STEP_MM = 0.5
"""A crease is followed in steps of this length. [mm]"""

HIT_SHARE = 0.3
"""Share of a step's cells that must be bare for a hit; a slit rarely fills its strip. [-]"""

FILLED_SHARE = 0.65
"""Share of the steps along a crease that must be hits. [-]"""

BESIDE_SHARE = 0.25
"""... and of the same steps 0.6 to 1.5 mm beside it, no more than this: dry paper breaks everywhere. [-]"""

BESIDE_MM = (-1.2, -0.7, 0.7, 1.2)

BESIDE_TELLS = 0.5
"""Share of the steps beside a crease, on either side, that could show bare cells. Along the edge of fine work one side
cannot: a held-out sheet read its ragged edge as 13.5 mm of slit. [-]"""

ALONG_A_LINE = 0.35
"""A strip with so much more line in it than beside it runs along a line: that line is thin, there is no slit. [-]"""

BLIND_MM = 3.0
"""A crease is not followed over a longer stretch that shows nothing. [mm]"""

NEAR_MM = (-0.4, 0.4)
"""Beside a crease its own slit, to 0.4 mm wide, may be seen here, so that only the count over all strips is told."""

EXCESS = 20.0
"""How many more bare cells a crease has than strips beside it let expect, in standard deviations of chance. Hatching
of 8 a mm makes waves in cells of 0.1 mm, whose false bare cells fall into rows: 10 to 15 on three such rows, 29 and
more on 26 creases of held-out sheets. [-]"""

SHORTEST_MM = 10.0
"""Shorter rows are specks, breaks or a straight edge; a crease runs over centimetres (common practice). [mm]"""


class Crease(NamedTuple):
    """A straight slit in the plate frame."""

    begin_mm: tuple[float, float]
    end_mm: tuple[float, float]
    length_mm: float


class _Maps(NamedTuple):
    """Cells of 0.1 mm of the plate."""

    bare: Mask
    """Ink that the standard has is missing."""
    known: Mask
    """It is, or could be seen to be."""
    line: Mask
    """The standard has a line here."""


class _Counts(NamedTuple):
    """What each step of a strip holds of the maps, and of the plate. (n,) [cells]"""

    bare: Floats
    known: Floats
    line: Floats
    inside: Floats


class _Strips:
    """Straight strips beside each other, cut into the same steps."""

    def __init__(self, maps: _Maps, angle: float, place_mm: float, pitch_mm: float) -> None:
        """Lie at right angles to `angle` from the origin, `place_mm` away; steps are those that meet the plate."""
        self._maps, self._pitch_mm = maps, pitch_mm
        self.direction = np.array([np.cos(angle), np.sin(angle)])
        self.start = place_mm * np.array([self.direction[1], -self.direction[0]])
        reach = float(np.hypot(*maps.bare.shape)) * pitch_mm
        steps = np.arange(-reach, reach, STEP_MM)
        middles = self.start + steps[:, None] * self.direction
        beyond = max(BESIDE_MM) + STRIP_MM + STEP_MM
        far = np.array(maps.bare.shape[::-1]) * pitch_mm + beyond
        self.steps = steps[((middles > -beyond) & (middles < far)).all(axis=1)]
        self._counted: dict[float, _Counts] = {}

    def at(self, offset_mm: float) -> _Counts:
        """Return what the steps of the strip `offset_mm` beside hold."""
        if offset_mm not in self._counted:
            along = np.arange(0.0, STEP_MM, self._pitch_mm)
            over = np.arange(-STRIP_MM / 2, STRIP_MM / 2 + 1e-9, self._pitch_mm) + offset_mm
            self._counted[offset_mm] = _Counts(
                *counts_along(self.start, self.direction, self.steps, along, over, self._pitch_mm, self._maps)
            )
        return self._counted[offset_mm]


def find_crease(sheet: LaidSheet, standard: MatchPictures) -> Crease | None:
    """Return the longest straight slit that this sheet has and the standard has not; None when there is none.

    Parameters
    ----------
    sheet : LaidSheet
    standard : MatchPictures

    Notes
    -----
    Cells of 0.1 mm are *bare* where a line of the standard is lost or where the film is gone. Straight strips of
    0.3 mm in all directions are searched for rows of bare cells (a Hough transform); the best are followed along their
    length. A row counts as a crease when it is filled over 10 mm and more and its neighbours on both sides are not.
    """
    pitch = PITCHES_MM[LEVEL]
    box = plate_box(standard.width_mm, standard.height_mm, pitch)
    ink, outside = ink_cells(sheet.scan.levels, sheet.laying, box, sheet.paper.luminance)
    maps = _maps(ink, standard.levels[LEVEL], pitch)
    border = round(1.5 / pitch)
    for mask in (maps.bare, maps.known):
        for edge in (mask[:border], mask[-border:], mask[:, :border], mask[:, -border:]):
            edge[:] = False
        if outside.size:
            mask[outside] = False
    rows, columns = np.divmod(np.flatnonzero(maps.bare), maps.bare.shape[1])
    if len(rows) < 20:
        return None
    points = np.column_stack((columns, rows)).astype(np.float64) * pitch
    best: Crease | None = None
    for angle, place in _strips(points):
        found = _follow(maps, angle, place, pitch)
        if found is not None and (best is None or found.length_mm > best.length_mm):
            best = found
    return best


def _ground(ink: Ink, pitch_mm: float) -> Ground:
    """Return the ground's ink under each cell: the lightest quarter of blocks, spread smoothly.

    Every other row of cells tells it.
    """
    side = max(round(FILM_BLOCK_MM / pitch_mm), 1)
    rows, columns = (max(n // side, 1) for n in ink.shape)
    cut = ink[: rows * side : 2, : columns * side] if min(ink.shape) >= side else ink
    blocks = block_percentiles(np.ascontiguousarray(cut), rows, columns, FILM_PERCENT)
    return spread_ground(blocks, (ink.shape[0], ink.shape[1]))


def _maps(sheet: Ink, standard: Ink, pitch_mm: float) -> _Maps:
    """Return where the sheet lost its ink, where that could be seen, and where the standard has lines.

    Ground that is darker than the standard's (clogged hatching, set-off) makes nothing bare: the edge of such a patch
    is no slit. Where the film is thinner than the limit, a slit in it cannot be seen.
    """
    there, here = (_ground(ink, pitch_mm) for ink in (standard, sheet))
    line, is_open = lines_and_open(standard, there, DARK_CODES, FLAT_CODES)
    near_line = cv2.dilate(line.view(np.uint8), np.ones((5, 5), dtype=np.uint8))
    is_open &= near_line == 0
    every = max(int(np.count_nonzero(is_open)) // MOST_TOLD, 1)
    told = changes(sheet, standard, here, there, is_open, every)
    noise = robust_sd(told, about=0) if len(told) else SLIT_CODES
    limit = max(SLIT_CODES, SLIT_NOISES * noise)
    return _Maps(*lost_cells(sheet, standard, here, there, line, is_open, LOST_SHARE, limit), line)


def _strips(points: Points) -> list[tuple[float, float]]:
    """Return direction and place of the strips in which bare cells stand in rows most, best first. [rad], [mm]"""
    found: list[tuple[float, float, float]] = []
    for angle in np.radians(np.arange(0, 180, TURN_STEP_DEG)).tolist():
        score, place = fullest_strip(points, np.sin(angle), np.cos(angle), STRIP_MM, BESIDE_STRIPS)
        found.append((score, angle, place))
    found.sort(reverse=True)
    return [(angle, place) for score, angle, place in found[:CANDIDATES] if score > 5.0]


def _follow(maps: _Maps, angle: float, place: float, pitch_mm: float) -> Crease | None:
    """Return the longest filled stretch of a strip, or None."""
    strips = _Strips(maps, angle, place, pitch_mm)
    here = _bare_share(strips.at(0.0))
    known = np.flatnonzero(np.isfinite(here))
    best = (0, 0)
    for part in np.split(known, np.flatnonzero(np.diff(known) > BLIND_MM / STEP_MM) + 1):
        if len(part) > 2:
            first, last = longest_filled(here[part] >= HIT_SHARE, FILLED_SHARE)
            if part[last] - part[first] > best[1] - best[0]:
                best = (int(part[first]), int(part[last]))
    length = (best[1] - best[0] + 1) * STEP_MM
    if length < SHORTEST_MM:
        return None
    stretch = slice(best[0], best[1] + 1)
    beside_lines, tells = [], {-1.0: 0.0, 1.0: 0.0}
    for offset in BESIDE_MM:
        beside = _bare_share(strips.at(offset))[stretch]
        side = float(np.sign(offset))
        tells[side] = max(tells[side], float(np.mean(np.isfinite(beside))))
        beside = beside[np.isfinite(beside)]
        if len(beside) > 3 and np.mean(beside >= HIT_SHARE) > BESIDE_SHARE:
            return None
        beside_lines.append(_line_share(strips.at(offset), stretch))
    if min(tells.values()) < BESIDE_TELLS or _excess(strips, stretch) < EXCESS:
        return None
    if _line_share(strips.at(0.0), stretch) - float(np.mean(beside_lines)) > ALONG_A_LINE:
        return None
    begin, end = (strips.start + strips.steps[i] * strips.direction for i in best)
    return Crease((float(begin[0]), float(begin[1])), (float(end[0]), float(end[1])), length)


def _bare_share(counts: _Counts) -> Floats:
    """Return the share of bare cells in each step of a strip; NaN where fewer than 4 cells can tell."""
    return np.where(counts.known >= 4, counts.bare / np.maximum(counts.known, 1), np.nan)


def _excess(strips: _Strips, stretch: slice) -> float:
    """Return by how many standard deviations the bare cells of a strip exceed the share of bare cells beside it."""
    bare, known = (part[stretch].sum() for part in strips.at(0.0)[:2])
    beside = np.zeros(2)
    for offset in (*BESIDE_MM, *NEAR_MM):
        beside += [part[stretch].sum() for part in strips.at(offset)[:2]]
    share = (beside[0] + 1) / (beside[1] + 2)  # by Laplace: none seen is not never
    return float((bare - known * share) / np.sqrt(max(known, 1.0) * share * (1 - share)))


def _line_share(counts: _Counts, stretch: slice) -> float:
    """Return the share of the standard's lines along a stretch of a strip."""
    return float(counts.line[stretch].sum() / max(counts.inside[stretch].sum(), 1))
