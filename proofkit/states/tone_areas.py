"""From tones of all pulls to areas that were bitten, burnished or scraped: what every pair of pulls says."""

from collections.abc import Sequence

import cv2
import numpy as np
from scipy.ndimage import label

from proofkit.arrays import Floats, Mask, Points
from proofkit.scatter import robust_sd
from proofkit.states.tones import CELL_MM
from proofkit.states.types import Change, ChangedArea, ChangeKind, Side

LEAST_CHANGE = 0.05
"""Smallest change of tone that is told: film wiped by hand wanders by 0.01 to 0.02 D over a plate once its even part
is taken off (common practice: the eye sees 0.02 D side by side), and every pair of pulls has to show it. [D]"""

LEAST_CHANGE_ALONE = 0.08
"""... from one pull of a state, where no second one says what is film: in the corners of a plate its course is known
least (simulated pairs). [D]"""

LEAST_SHARE = 0.2
"""... and of an area's own tone: with ink its tone varies by up to 15 % from pull to pull (choice of ours). [-]"""

SIGMAS = 4.0
"""... and standard deviations of what pulls of one state differ by. [-]"""

MOST_INK = 0.15
"""Tones of a whole sheet gain or lose at most this share by ink; more is work on the plate (choice of ours). [-]"""

TONED = 0.06
"""Ground this much darker than the palest of the plate holds a tone. [D]"""

ABSENT = 0.035
"""Ground less dark than this, or than `ABSENT_SHARE` of what the other state has there, holds none. [D]"""

ABSENT_SHARE = 0.25

PALEST = 10.0
"""Percentile of the base's cells that is taken for clear ground."""

LEAST_BREADTH_CELLS = 3
"""An area is at least this broad: 1.5 mm. A single stroke that was not seen as one is narrower. [cells]"""

LEAST_AREA_MM2 = 4.0
"""Smallest area that is told: a square of 2 mm. [mm²]"""

LEAST_CELLS = 60
"""Fewer free cells (15 mm²) do not tell film from work."""

LONGEST_PIECE_MM = 4.0
"""On ground whose tone changed, a piece of line up to this long that came or went is of its mesh; of meshes with grains
up to 0.25 mm nine in ten are no longer than 3 mm (simulated). [mm]"""

MOSTLY = 0.5
"""Share of a stroke that speaks for all of it. [-]"""

ROUNDS = 12
"""Rounds in which the course of film is fitted, cells that leave it losing their say."""

TUKEY = 4.685
"""Robust standard deviations at which a cell has no say left (J. Tukey's biweight with 95 % efficiency). [-]"""

LEAST_SCATTER = 0.004
"""Cells of two pulls scatter by this at least: paper's clouds and grain. [D]"""


def changed_tones(tones: Sequence[Floats], sides: Sequence[Side]) -> list[ChangedArea]:
    """Return the areas whose tone every pair of pulls shows to have changed, largest first.

    Parameters
    ----------
    tones : sequence of Floats
        Of each pull, the base first, as `read_tone` gives them. [D]
    sides : sequence of str
        State of each pull.

    Notes
    -----
    Film and ink are what the whole sheet shows: a course of second degree over the plate, and one factor on all tones.
    Both are fitted so that cells that leave them have no say, hence a change of more than half of the free ground is
    taken for film. One pull of a state cannot tell a tone from film left by the cloth: its areas are doubtful.
    """
    base = tones[0]
    known: Mask = np.asarray(np.isfinite(np.stack(tones)).all(axis=0))
    if known.sum() < LEAST_CELLS:
        return []
    clear = float(np.percentile(base[known], PALEST))
    own = np.where(known, np.maximum(base - clear, 0.0), 0.0)
    level = [np.where(known, _levelled(tone - base, own, known), 0.0) for tone in tones]
    is_a = np.array(sides) == "A"
    before = np.stack([one for one, a in zip(level, is_a, strict=True) if a])
    after = np.stack([one for one, a in zip(level, is_a, strict=True) if not a])
    is_alone = min(len(before), len(after)) < 2
    doubt = "one pull of a state: film left by the cloth looks alike" if is_alone else ""
    smallest = LEAST_CHANGE_ALONE if is_alone else LEAST_CHANGE
    least = max(smallest, SIGMAS * _scatter(before, after, known))
    found: list[ChangedArea] = []
    for sign in (1.0, -1.0):
        change = _least_of_all(before, after, sign, known)
        tone = own + np.minimum(before.mean(axis=0), after.mean(axis=0))
        needed = np.maximum(least, LEAST_SHARE * np.maximum(tone, 0.0))
        marked = _smoothed(change, known) > needed
        for mask in _areas(marked, change, known):
            here = mask & known
            a, b = (float(np.median((own + side.mean(axis=0))[here])) for side in (before, after))
            if min(a, b) < -ABSENT:
                continue  # paler than the plate's clear ground: film, which the cloth can take, not work
            found.append(_area(_kind(a, b, doubt), mask, (a, b), doubt))
    return sorted(found, key=lambda area: -area.area_mm2)


def without_tones(changes: Sequence[Change], tones: Sequence[ChangedArea]) -> list[Change]:
    """Return the changes of strokes without those that are but the work of a changed tone.

    A line on ground that was bitten or burnished stands out less or more without having been touched, and pieces of
    a mesh that run on for a while look like short strokes that came or went with the tone.
    """
    return [
        change for change in changes
        if not any(_is_of(change, tone) for tone in tones)
    ]  # fmt: skip


def _is_of(change: Change, tone: ChangedArea) -> bool:
    if change.kind in {"added", "removed"} and change.length_mm > LONGEST_PIECE_MM:
        return False
    ring = tone.outline_mm.astype(np.float32).reshape(-1, 1, 2)
    inside = [
        cv2.pointPolygonTest(ring, (float(x), float(y)), measureDist=True) > -CELL_MM
        for x, y in change.points_mm
    ]
    return float(np.mean(inside)) > MOSTLY


def _levelled(change: Floats, own: Floats, known: Mask) -> Floats:
    """Return a pull's change against the base without its course of film and without its ink."""
    rows, columns = np.indices(change.shape)
    x = columns / change.shape[1] - 0.5
    y = rows / change.shape[0] - 0.5
    terms = [np.ones_like(x), x, y, x * x, x * y, y * y]
    toned = known & (own > TONED)
    # A factor on tones is told only where there are tones, and clear ground beside them to tell the film.
    has_ink = min(toned.sum(), (known & ~toned).sum()) >= LEAST_CELLS
    design = np.stack([term[known] for term in (*terms, *([own] if has_ink else []))], axis=1)
    value = change[known]
    weight = np.abs(value - np.median(value)) < 3 * robust_sd(value - np.median(value))
    fitted = np.full(value.size, np.median(value))
    for _ in range(ROUNDS):
        w = np.sqrt(weight.astype(np.float64))
        solution = np.linalg.lstsq(design * w[:, None], value * w, rcond=None)[0]
        if has_ink:
            solution[-1] = np.clip(solution[-1], -MOST_INK, MOST_INK)
        fitted = design @ solution
        rest = value - fitted
        away = (rest - np.median(rest)) / (TUKEY * max(robust_sd(rest), LEAST_SCATTER))
        weight = np.where(np.abs(away) < 1, (1 - away**2) ** 2, 0.0)
    result = np.zeros_like(change)
    result[known] = value - fitted
    return result


def _scatter(before: Floats, after: Floats, known: Mask) -> float:
    """Return by how much cells of two pulls of one state differ; of single pulls, what both states differ by."""
    pairs = [side[k] - side[0] for side in (before, after) for k in range(1, len(side))]
    pairs = pairs or [after[0] - before[0]]
    return max(LEAST_SCATTER, *(robust_sd(pair[known]) for pair in pairs))


def _least_of_all(before: Floats, after: Floats, sign: float, known: Mask) -> Floats:
    """Return the least change of one sign that any pair of pulls shows, 0 where one shows none."""
    pairs = [sign * (b - a) for a in before for b in after]
    return np.where(known, np.maximum(np.min(pairs, axis=0), 0.0), 0.0)


def _smoothed(change: Floats, known: Mask) -> Floats:
    """Return the median of the known ones of three by three cells, 0 where fewer than three are known.

    The median, as a single stroke that was not seen as one runs through three of nine cells at most.
    """
    cells = np.pad(np.where(known, change, np.nan), 1, constant_values=np.nan)
    rows, columns = change.shape
    around = np.stack([cells[i : i + rows, j : j + columns] for i in range(3) for j in range(3)])
    enough = np.isfinite(around).sum(axis=0) >= LEAST_BREADTH_CELLS
    result = np.zeros_like(change)
    result[enough] = np.nanmedian(around[:, enough], axis=0)
    return result


def _areas(marked: Mask, change: Floats, known: Mask) -> list[Mask]:
    """Return each area that is broad enough, out to where half of its own change is reached."""
    square = np.ones((LEAST_BREADTH_CELLS, LEAST_BREADTH_CELLS), dtype=np.uint8)
    core = cv2.morphologyEx(marked.astype(np.uint8), cv2.MORPH_OPEN, square, borderValue=0)
    # Pieces a cell apart are one area.
    numbers, count = label(cv2.dilate(core, square), structure=np.ones((3, 3)))
    numbers[core == 0] = 0
    found = []
    smooth = _smoothed(change, known)
    for number in range(1, count + 1):
        mine = numbers == number
        near = cv2.dilate(mine.astype(np.uint8), square) > 0
        half = 0.5 * float(np.median(smooth[mine]))
        mask = near & (smooth > half)
        if mask.sum() * CELL_MM**2 >= LEAST_AREA_MM2:
            found.append(mask)
    return found


def _kind(before: float, after: float, doubt: str) -> ChangeKind:
    if doubt:
        return "doubtful"
    if after > before:
        return "added" if before < max(ABSENT, ABSENT_SHARE * after) else "deepened"
    return "removed" if after < max(ABSENT, ABSENT_SHARE * before) else "lightened"


def _area(kind: ChangeKind, mask: Mask, tone: tuple[float, float], doubt: str) -> ChangedArea:
    return ChangedArea(
        kind=kind,
        outline_mm=_outline(mask),
        area_mm2=float(mask.sum()) * CELL_MM**2,
        strokes=0,
        length_mm=0.0,
        tone_density=tone,
        doubt=doubt,
    )


def _outline(mask: Mask) -> Points:
    """Return the outer edge of the cells of an area, in plate mm."""
    fine = np.kron(mask.astype(np.uint8), np.ones((4, 4), dtype=np.uint8))
    outlines, _ = cv2.findContours(np.pad(fine, 1), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    outline = max(outlines, key=cv2.contourArea)[:, 0, :].astype(np.float64)
    # Centres of the outermost quarter cells, half a quarter cell within the edge.
    return np.asarray((outline - 0.5) * CELL_MM / 4)
