"""Cells of each sheet that leave the picture of the edition."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from proofkit.arrays import Mask, Picture
from proofkit.measures.fine_picture import FINE_PITCH_MM
from proofkit.places.kernels import centre_and_spread
from proofkit.places.levelling import both_shown, difference
from proofkit.places.picture import EditionPicture, predicted, strip_terms, strips
from proofkit.places.spread import steadied
from proofkit.places.types import FinePictures
from proofkit.threads import each_in_order, threads_inside, threads_limited


@dataclass(frozen=True, slots=True)
class Scale:
    """A size of marks that is looked for."""

    sigma_mm: float
    """Standard deviation of the averaging. [mm]"""
    least_ink: float
    """Smallest change of the averaged ink that is worth a word. [-]"""


SCALES = (Scale(0.12, 0.04), Scale(0.30, 0.02))
"""A disc of diameter d stands out most when averaged with about d/3: specks of 0.3 mm and of 0.8 mm. A change of
0.05 is 0.02 D, the least that a trained eye tells side by side (common practice), half of it over a larger spot."""

SPREADS = 6.0
"""A cell is a hit this many spreads away: in an edition a million of cells are looked at, and paper has fibres. [-]"""

JOINING_SPREADS = 3.5
"""Cells this far away join hits that belong together, as those of a slit across lines; alone they are none. [-]"""

STRIPS_AT_ONCE = 4
"""Strips that are looked through side by side at the most: each takes some 60 MB."""

QUIET_SHARE = 0.95
"""Share of a strip that is taken for sound when a sheet's own restlessness is told. [-]"""

QUIET_SPREADS = 1.96
"""Spreads that `QUIET_SHARE` of normal values stay within. [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class Hits:
    """Cells of one sheet that leave the picture of the edition."""

    rows: npt.NDArray[np.int32]
    columns: npt.NDArray[np.int32]
    change: Picture
    """Change of ink, averaged over the finer scale. [-]"""
    spreads: Picture
    """The same in spreads, of the scale on which it stands out most; negative = lighter. Under `SPREADS` it only
    joins others."""


def find_hits(picture: EditionPicture, pictures: FinePictures) -> dict[str, Hits]:
    """Return the hits of each sheet.

    Parameters
    ----------
    picture : EditionPicture
    pictures : FinePictures
        The same sheets.
    """
    halo = int(np.ceil(3 * SCALES[-1].sigma_mm / FINE_PITCH_MM))
    rows, columns = picture.middle.shape

    def of_strip(strip: tuple[int, int]) -> list[Hits]:
        top, bottom = strip
        above, below = max(top - halo, 0), min(bottom + halo, rows)
        rest = _remainders(picture, pictures, above, below)
        return _strip_hits(picture, rest, (above, below), slice(top - above, bottom - above))

    with threads_limited(min(threads_inside(), STRIPS_AT_ONCE)):
        found = each_in_order(of_strip, list(strips(rows, columns, 2 * len(picture.pulls))))
    return {pull: _joined(parts) for pull, parts in zip(picture.pulls, zip(*found, strict=True), strict=True)}


def _remainders(picture: EditionPicture, pictures: FinePictures, top: int, bottom: int) -> list[Picture]:
    """Return what each sheet has beyond its own course, NaN where it shows nothing."""
    terms = strip_terms(picture.middle, top, bottom)
    middle = picture.middle[top:bottom]
    result = []
    for pull in picture.pulls:
        codes = pictures(pull, top, bottom)
        rest = difference(codes, middle) - predicted(picture.courses[pull], terms, top)
        rest[~both_shown(codes, middle)] = np.nan
        result.append(rest)
    return result


def _averaged(rest: Picture, sigma_mm: float) -> Picture:
    known = np.isfinite(rest)
    average = cv2.GaussianBlur(
        np.where(known, rest, np.float32(0)), (0, 0), sigma_mm / FINE_PITCH_MM, borderType=cv2.BORDER_REFLECT
    )
    average[~known] = np.nan
    return np.asarray(average)


def _strip_hits(
    picture: EditionPicture, rest: Sequence[Picture], rows: tuple[int, int], inner: slice
) -> list[Hits]:
    terms = strip_terms(picture.middle, *rows)[:, inner]
    ink, slope = terms[1], np.hypot(terms[2], terms[3])
    shape = (len(rest), *ink.shape)
    changes = np.empty(shape, dtype=np.float32)
    away = np.zeros(shape, dtype=np.float32)
    for number, scale in enumerate(SCALES):
        stack = np.stack([_averaged(one, scale.sigma_mm)[inner] for one in rest])
        centre, spread = np.empty_like(ink), np.empty_like(ink)
        centre_and_spread(stack, centre, spread)
        stack -= centre
        if number == 0:
            changes[:] = stack
        spread = steadied(spread, ink, slope, len(rest))
        for one, sheet in zip(away, stack, strict=True):
            _keep_farther(one, sheet, sheet / spread, scale)
    first = rows[0] + inner.start
    return [_hits(one, change, first) for one, change in zip(away, changes, strict=True)]


def _keep_farther(away: Picture, change: Picture, spreads: Picture, scale: Scale) -> None:
    """Put the spreads of a scale into `away` where they are hits and larger than what is there."""
    known = np.isfinite(spreads)
    if not known.any():
        return
    restless = float(np.quantile(np.abs(spreads[known]), QUIET_SHARE)) / QUIET_SPREADS
    steady = np.where(known, spreads, 0) / max(restless, 1.0)
    size, ink = np.abs(steady), np.abs(np.nan_to_num(change))
    hit: Mask = (size >= SPREADS) & (ink >= scale.least_ink)
    hit |= (size >= JOINING_SPREADS) & (size < SPREADS) & (ink >= scale.least_ink / 2)
    hit &= size > np.abs(away)
    away[hit] = steady[hit]


def _hits(away: Picture, change: Picture, first_row: int) -> Hits:
    i, j = np.nonzero(away)
    return Hits((i + first_row).astype(np.int32), j.astype(np.int32), change[i, j], away[i, j])


def _joined(parts: Sequence[Hits]) -> Hits:
    return Hits(
        *(
            np.concatenate([getattr(part, name) for part in parts])
            for name in ("rows", "columns", "change", "spreads")
        )
    )
