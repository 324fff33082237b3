"""Compiled loops that find ridges."""

import numpy as np

from proofkit.arrays import Floats, Ink, Mask, Picture
from proofkit.scan.compiling import kernel


@kernel
def keep_first(
    answer: Picture, best: Picture, valley: Picture, strongest: Picture, corner: tuple[int, int]
) -> None:
    """Take one direction's answers of the finest level; the arrays are as in `keep_stronger`, and written anew.

    `strongest` holds 0 before the first direction.
    """
    height, width = best.shape
    zero = np.float32(0.0)
    for y in range(height):
        row = answer[y + corner[0], corner[1] : corner[1] + width]
        for x in range(width):
            kept = max(row[x], zero)
            best[y, x] = kept
            valley[y, x] = min(row[x], zero)
            strongest[y, x] = max(strongest[y, x], kept)


@kernel
def keep_stronger(
    answer: Picture,
    finer: Picture,
    valley_share: np.float32,
    finer_share: np.float32,
    best: Picture,
    valley: Picture,
    strongest: Picture,
    corner: tuple[int, int],
) -> None:
    """Take one direction's answers of a coarser level into the `best` and the lowest (`valley`) of the levels so far.

    `answer` may be larger than the others, whose first pixel lies at row and column `corner` of it.

    An answer counts where no level sees a valley deeper than `valley_share` of it, and where it is more than
    `finer_share` of the strongest answer near by on the levels before (`finer`). `strongest` is the best of all
    directions.

    Notes
    -----
    Values are chosen, not branched upon, so that many pixels are worked on at a time.
    """
    height, width = best.shape
    for y in range(height):
        row = answer[y + corner[0], corner[1] : corner[1] + width]
        for x in range(width):
            here, old = row[x], best[y, x]
            lowest = min(valley[y, x], here)
            valley[y, x] = lowest
            counts = (lowest > -valley_share * here) & (here > finer_share * finer[y, x]) & (here > old)
            kept = here if counts else old
            best[y, x] = kept
            strongest[y, x] = max(strongest[y, x], kept)


@kernel
def _where_dark(answer: Picture, dark: Mask, y: float, x: float) -> float:
    """Return answers at a place inside them, linear between pixels, of which those that are not dark have 0."""
    j = int(np.floor(y))
    i = int(np.floor(x))
    b = y - j
    a = x - i
    upper: float = (1 - a) * answer[j, i] * dark[j, i] + a * answer[j, i + 1] * dark[j, i + 1]
    lower: float = (1 - a) * answer[j + 1, i] * dark[j + 1, i] + a * answer[j + 1, i + 1] * dark[j + 1, i + 1]
    return (1 - b) * upper + b * lower


@kernel
def collect_ridges(answers: Picture, dark: Mask, threshold: np.float32) -> Floats:
    """Return (n, 4) x, y, direction, strength of points greatest across the line and among directions.

    `answers` are (directions, rows, columns); none counts where a pixel is not `dark` (rows, columns).
    """
    directions, h, w = answers.shape
    found = np.empty((1024, 4))
    count = 0
    step = np.pi / directions
    highest = np.empty(w, dtype=np.float32)
    for y in range(2, h - 2):
        # Along rows memory is read in order; directions are asked for only where one of them may answer.
        highest[:] = 0.0
        for k in range(directions):
            row = answers[k, y]
            for x in range(2, w - 2):
                highest[x] = max(highest[x], row[x])
        for x in range(2, w - 2):
            if highest[x] < threshold or not dark[y, x]:
                continue
            for k in range(directions):
                here = answers[k, y, x]
                if here < threshold:
                    continue
                before = answers[k - 1 if k else directions - 1, y, x]
                after = answers[k + 1 if k + 1 < directions else 0, y, x]
                if here < before or here <= after:
                    continue
                bend = before - 2.0 * here + after
                turn = 0.5 * (before - after) / bend if bend < 0.0 else 0.0
                angle = (k + turn) * step
                nx = -np.sin(angle)
                ny = np.cos(angle)
                up = _where_dark(answers[k], dark, y + ny, x + nx)
                down = _where_dark(answers[k], dark, y - ny, x - nx)
                if here < up or here <= down:
                    continue
                curve = up - 2.0 * here + down
                shift = 0.5 * (down - up) / curve if curve < 0.0 else 0.0
                if count == found.shape[0]:
                    wider = np.empty((2 * count, 4))
                    wider[:count] = found
                    found = wider
                found[count, 0] = x + shift * nx
                found[count, 1] = y + shift * ny
                found[count, 2] = angle % np.pi
                found[count, 3] = here
                count += 1
    return found[:count].copy()


@kernel
def bilinear(image: Picture | Ink, y: float, x: float) -> float:
    """Return a picture at a place inside it, linear between pixels."""
    j = int(np.floor(y))
    i = int(np.floor(x))
    b = y - j
    a = x - i
    upper: float = (1 - a) * image[j, i] + a * image[j, i + 1]
    lower: float = (1 - a) * image[j + 1, i] + a * image[j + 1, i + 1]
    return (1 - b) * upper + b * lower
