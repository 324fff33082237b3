"""Set-off: a faint mirrored ghost of the print, left by another sheet that lay on this one face to face."""

from typing import NamedTuple

import cv2
import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Floats, Ink, Mask, Picture
from proofkit.laying.rectify import plate_box
from proofkit.laying.reference import PITCHES_MM, MatchPictures
from proofkit.measures.ground import BEVEL_MM, local_mean
from proofkit.measures.raster import reflectance_picture
from proofkit.measures.shift_scores import AtRest, Scores, at_rest, spectrum
from proofkit.measures.types import LaidSheet
from proofkit.measures.uncertainty import combined
from proofkit.peaks import top_beside
from proofkit.scatter import robust_sd
from proofkit.threads import each_in_order
from proofkit.units import density

REACH_MM = 12.0
"""How far the other sheet may have lain from its exact place: piles are squared up by hand (choice of ours). [mm]"""

TURNS_DEG = (-1.0, -0.5, 0.0, 0.5, 1.0)
"""How far it may have lain turned (choice of ours). [deg]"""

SLOW_MM = 2.5
"""Film that changes over more than this is wiping, not a ghost. [mm]"""

BLOCKS = 2
"""Such a slow mean is made of blocks, so many to a standard deviation; see `local_mean`."""

BARE_INK = 0.05
"""Cells of the standard with so much more ink than its ground are worked. [1 - R/Rp]"""

GROUND_PERCENT = 20
"""Even a full plate leaves a fifth of its cells unworked: their darkest is its ground. [%]"""

BARE_MM2_MIN = 60.0
"""Least unworked ground on which a ghost is looked for (choice of ours). [mm²]"""

FAR_NOISES = 8.0
"""Cells farther off than so many standard deviations are specks and lint. [-]"""

SEEN_NOISES = 7.0
"""How far a ghost must stand out from the scatter over all other places where it might lie: other sheets reach 5.8,
ghosts of 0.023 D and more 24 and more (simulated). [-]"""

LIKELY_NOISES = 4.0
"""... and to be looked at in all turns: a ghost is like the print at wrong turns too, if less. [-]"""

U_PLACE = 0.05
"""Relative standard uncertainty of a ghost's density by turns between those of `TURNS_DEG` and by its own blur: it
lowers what is read by up to 10 % on drawn sheets. [-]"""

FINE_REACH_MM = 1.2
"""How far about the first find the place is looked for anew in finer cells. [mm]"""

FIRST_LEVEL, FINE_LEVEL = PITCHES_MM.index(0.4), PITCHES_MM.index(0.2)


class SetOff(NamedTuple):
    """A ghost of the print."""

    density: float
    """Of the ghost where the print that left it is full black; 0 when none is seen, NaN without open ground. [D]"""
    u_density: float
    """By what the same fit finds at places where no ghost lies. [D]"""
    x_mm: float
    """Shift of the mirrored print from its place on the mirrored plate, to the right; NaN for none. [mm]"""
    y_mm: float
    """The same, down. [mm]"""

    def cells(self) -> dict[str, float]:
        """Return the cells of `sheets`."""
        return {
            "set_off_density": self.density,
            "u_set_off_density": self.u_density,
            "set_off_x_mm": self.x_mm,
            "set_off_y_mm": self.y_mm,
        }


class _Film(NamedTuple):
    """What a sheet's open ground has more than the standard's, without what changes slowly."""

    excess: Floats
    """(rows, columns) change of density, 0 where `ground` is not. [D]"""
    ground: Mask
    print_: Picture
    """(rows, columns) 1 - R/Rp of the standard. [-]"""
    pitch_mm: float


class _Found(NamedTuple):
    """The best place of a ghost."""

    density: float
    noise: float
    score: float
    """In standard deviations of the other places. [-]"""
    x_mm: float
    y_mm: float


NO_GHOST = SetOff(0.0, float("nan"), float("nan"), float("nan"))


def find_set_off(sheet: LaidSheet, pictures: MatchPictures) -> SetOff:
    """Return density and place of a mirrored ghost of the standard's print on a sheet's open ground.

    Parameters
    ----------
    sheet : LaidSheet
    pictures : MatchPictures
        Of the standard.

    Notes
    -----
    What the sheet's unworked cells have more than the standard's is held against the mirrored print at every shift up
    to `REACH_MM` and a few turns: the slope of a regression through the cells, for all shifts at once by Fourier
    transforms. What other shifts explain is what chance does on this sheet; what stands out from it is a ghost. Place
    and density are then told anew in cells of half the size.
    """
    film = _film(sheet, pictures, FIRST_LEVEL)
    if film.ground.sum() * film.pitch_mm**2 < BARE_MM2_MIN:
        return NO_GHOST._replace(density=float("nan"))
    rest = _at_rest(film)
    found, turn = _at_likeliest_turn(film, rest)
    if found.score >= LIKELY_NOISES:
        tried = each_in_order(lambda turn: _at_turn(film, rest, turn), TURNS_DEG)
        found, turn = max(zip(tried, TURNS_DEG, strict=True), key=lambda one: one[0].score)
    if not found.score >= SEEN_NOISES or found.density <= 0:
        return NO_GHOST._replace(u_density=found.noise)
    fine = _film(sheet, pictures, FINE_LEVEL)
    near = _at_turn(fine, _at_rest(fine), turn, about=(found.x_mm, found.y_mm))
    # The mirrored picture is turned about its own middle, the mirrored plate about that of the plate.
    beyond = (fine.print_.shape[1] - 1) * fine.pitch_mm - pictures.width_mm
    return SetOff(near.density, combined(near.noise, U_PLACE * near.density), near.x_mm + beyond, near.y_mm)


def _film(sheet: LaidSheet, pictures: MatchPictures, level: int) -> _Film:
    """Return the open ground of a sheet against the standard's."""
    pitch = PITCHES_MM[level]
    box = plate_box(pictures.width_mm, pictures.height_mm, pitch)
    here = reflectance_picture(sheet.scan, sheet.paper, sheet.laying, box)
    print_ = _ink(pictures.levels[level])
    x, y = (np.arange(n) * pitch for n in (box.columns, box.rows))
    off_bevel = [
        (v > BEVEL_MM) & (v < side - BEVEL_MM)
        for v, side in ((x, pictures.width_mm), (y, pictures.height_mm))
    ]
    bare = print_ < np.percentile(print_, GROUND_PERCENT) + BARE_INK
    bare = cv2.erode(bare.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    ground = bare & off_bevel[0][None, :] & off_bevel[1][:, None] & np.isfinite(here) & (here > 0)
    if not ground.any():
        return _Film(np.zeros(print_.shape), ground, print_, pitch)
    change = np.where(
        ground, density(np.where(ground, here, 1.0)) - density(np.maximum(1 - print_, 0.05)), 0.0
    )
    excess = _fast(change, ground, pitch)
    spread = robust_sd(excess[ground], about=0)
    ground &= np.abs(excess) <= FAR_NOISES * spread
    return _Film(_fast(change, ground, pitch), ground, print_, pitch)


def _ink(codes: Ink) -> Picture:
    return ((codes.astype(np.float32) - INK_ZERO) / INK_SCALE).astype(np.float32)


def _fast(values: Floats, ground: Mask, pitch_mm: float) -> Floats:
    """Return values of the ground less their mean over `SLOW_MM` around, 0 elsewhere."""
    slow = local_mean(values.astype(np.float32), ground, SLOW_MM / pitch_mm, BLOCKS)
    return np.where(ground & np.isfinite(slow), values - slow, 0.0)


def _turned(print_: Picture, turn_deg: float) -> Picture:
    """Return a picture turned about its middle."""
    if not turn_deg:
        return print_
    rows, columns = print_.shape
    turn = cv2.getRotationMatrix2D(((columns - 1) / 2, (rows - 1) / 2), turn_deg, 1.0)
    turned = cv2.warpAffine(print_, turn, (columns, rows), borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(turned, dtype=np.float32)


def _mirrored(film: _Film) -> Picture:
    return np.ascontiguousarray(film.print_[:, ::-1])


def _without_slow(whole: Picture, pitch_mm: float) -> Picture:
    """Return a print less its mean over `SLOW_MM` around."""
    every = np.ones(whole.shape, dtype=np.bool_)
    return np.asarray(whole - local_mean(whole, every, SLOW_MM / pitch_mm, BLOCKS), dtype=np.float32)


def _at_rest(film: _Film) -> AtRest:
    return at_rest(film.ground, film.excess, round(REACH_MM / film.pitch_mm))


def _at_likeliest_turn(film: _Film, rest: AtRest) -> tuple[_Found, float]:
    """Return the best place at the turn at which one shift stands out most from all others, and that turn. [deg]"""
    fast = _without_slow(_mirrored(film), film.pitch_mm)
    scores = Scores(rest, fast)

    def tried(turn_deg: float) -> tuple[float, Scores, Floats]:
        turned = scores.turned(_turned(fast, turn_deg))
        score = turned.of(rest.excess)
        return float(score.max() - np.median(score)) / max(robust_sd(score), 1e-12), turned, score

    every = each_in_order(tried, TURNS_DEG)
    best = int(np.argmax([stands_out for stands_out, _, _ in every]))
    _, turned, score = every[best]
    return _best_place(film, rest, _turned(_mirrored(film), TURNS_DEG[best]), turned, score), TURNS_DEG[best]


def _at_turn(film: _Film, rest: AtRest, turn_deg: float, about: tuple[float, float] | None = None) -> _Found:
    """Return the best place at a turn; `about` confines it to `FINE_REACH_MM` around a place. [mm]"""
    whole = _turned(_mirrored(film), turn_deg)
    scores = Scores(rest, _without_slow(whole, film.pitch_mm))
    score = scores.of(rest.excess)
    if about is None:
        return _best_place(film, rest, whole, scores, score)
    x, y = film.pitch_mm * scores.right, film.pitch_mm * scores.down
    near = np.hypot(x - about[0], y - about[1]) < FINE_REACH_MM
    return _best_place(film, rest, whole, scores, np.where(near, score, -np.inf))


def _best_place(film: _Film, rest: AtRest, whole: Picture, scores: Scores, score: Floats) -> _Found:
    """Return the shift at which the mirrored print `whole` explains most of the excess, with its slope there.

    `score` is what `scores` says of the excess, -inf at shifts that are not asked for. Chance is what all shifts
    explain of the excess once the ghost is taken off: a print is like itself at other shifts.
    """
    row, column = (int(v) for v in np.unravel_index(int(np.argmax(score)), score.shape))
    x_mm = (float(scores.right[row, column]) + _peak(score[row], column)) * film.pitch_mm
    y_mm = (float(scores.down[row, column]) + _peak(score[:, column], row)) * film.pitch_mm
    moved = _moved(film, whole, x_mm, y_mm)
    power = max(float(np.sum(moved * moved)), 1e-12)
    slope = float(np.sum(moved * film.excess)) / power
    chance = scores.of(spectrum(film.excess - slope * moved, rest.shape))
    middle = float(np.median(chance))
    scatter = max(robust_sd(chance), 1e-12)
    return _Found(slope, scatter / np.sqrt(power), float(score[row, column] - middle) / scatter, x_mm, y_mm)


def _peak(line: Floats, at: int) -> float:
    """Return where a parabola through the best value of a line and its two neighbours has its top. [cells]"""
    if not 0 < at < len(line) - 1:
        return 0.0
    return top_beside(*line[at - 1 : at + 2])


def _moved(film: _Film, whole: Picture, x_mm: float, y_mm: float) -> Floats:
    """Return the shifted print on the ground, without what changes slowly there."""
    rows, columns = whole.shape
    move = np.array([[1, 0, x_mm / film.pitch_mm], [0, 1, y_mm / film.pitch_mm]])
    moved = cv2.warpAffine(
        whole, move, (columns, rows), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    return _fast(moved.astype(np.float64), film.ground, film.pitch_mm)
