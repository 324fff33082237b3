"""Where on the print a drawing lies: every turn, size and place is tried, read direct and mirrored."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft2, next_fast_len, rfft2
from scipy.ndimage import gaussian_filter

from proofkit.arrays import Floats
from proofkit.drawing.types import Courses

CELL_MM = 1.0
"""Cells in which lines are gathered by direction. [mm]"""

SECTORS = 8
"""Sectors of direction over 180 degrees: lines of a contour and of hatching that crosses it fall apart."""

TURNS_DEG = tuple(
    quarter + turn for quarter in (0.0, 90.0, 180.0, 270.0) for turn in (-6.0, -3.0, 0.0, 3.0, 6.0)
)
"""Turns tried: a sheet is laid by hand within some degrees of straight, the right side up or not. [deg]"""

SIZES = tuple(float(size) for size in np.exp(np.arange(-4, 5) * 0.05))
"""Sizes tried, print mm per drawing mm, in steps of 5 %: traced drawings have the size of the plate. [-]"""

FAR_SIZES = tuple(float(np.exp(sign * step * 0.05)) for step in range(5, 15) for sign in (-1, 1))
"""Sizes tried when none of those fits: half to double. [-]"""

BEST = 6
"""Places that are looked at closer, for each reading."""

TONE_CELLS = 4.0
"""Hatching fills whole fields of one direction; what a field of this size has in common says nothing. [cells]"""


class Place(NamedTuple):
    """A place of the drawing on the print."""

    score: float
    affine: Floats
    """(2, 3) drawing mm -> print mm."""
    mirrored: bool


def find_places(
    drawing: Courses,
    printed: Courses,
    size_mm: tuple[float, float],
    *,
    mirrored: bool,
    sizes: tuple[float, ...] = SIZES,
) -> list[Place]:
    """Return the likeliest places of a drawing on a print, best first.

    Parameters
    ----------
    drawing, printed : Courses
        Lines of both, in their own millimetres.
    size_mm : tuple
        Width and height of the print. [mm]
    mirrored : bool
        Read the drawing mirrored.
    sizes : tuple, default SIZES
        Print mm per drawing mm.

    Notes
    -----
    Lines are gathered in cells by direction; both sets of pictures are correlated over all shifts at once. Directions
    keep hatching from answering for contours, and a weak drawing counts as much as a firm one, as only where lines run
    matters.
    """
    middle = drawing.points_mm.mean(axis=0)
    reach = float(np.hypot(*(drawing.points_mm - middle).T).max())
    # The middle of the drawing stays on the print, so it hangs over every edge by at most its own reach.
    across = [next_fast_len(int((side + reach * max(sizes)) / CELL_MM) + 8, real=True) for side in size_mm]
    shape = (across[1], across[0])
    spectra = rfft2(_pictures(printed, np.zeros(2), shape))
    places: list[Place] = []
    for turn in TURNS_DEG:
        for size in sizes:
            linear = _linear(turn, size, mirrored=mirrored)
            moved = _moved(drawing, linear, middle)
            low = moved.points_mm.min(axis=0)
            span = np.ptp(moved.points_mm, axis=0)
            if (span / CELL_MM > np.array(shape[::-1]) - 4).any() or (span > 1.6 * max(size_mm)).any():
                continue
            pattern = _pictures(moved, low, shape)
            energy = float(np.sqrt((pattern**2).sum()))
            score = irfft2((spectra * np.conj(rfft2(pattern))).sum(axis=0), s=shape)
            row, column = np.unravel_index(int(np.argmax(score)), shape)
            shift = np.array([_signed(column, shape[1]), _signed(row, shape[0])]) * CELL_MM
            offset = shift - low - linear @ middle
            affine = np.column_stack((linear, offset))
            places.append(Place(float(score[row, column]) / max(energy, 1e-9), affine, mirrored))
    places.sort(key=lambda place: -place.score)
    return places[:BEST]


def _linear(turn_deg: float, size: float, *, mirrored: bool) -> Floats:
    angle = np.deg2rad(turn_deg)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(size * turn @ np.diag([-1.0 if mirrored else 1.0, 1.0]))


def _moved(drawing: Courses, linear: Floats, middle: Floats) -> Courses:
    along = np.column_stack((np.cos(drawing.direction), np.sin(drawing.direction))) @ linear.T
    direction = np.mod(np.arctan2(along[:, 1], along[:, 0]), np.pi)
    size = float(np.sqrt(abs(np.linalg.det(linear))))
    points = (drawing.points_mm - middle) @ linear.T
    return Courses(points, direction, drawing.line, drawing.length_mm * size, drawing.weight)


def _signed(index: np.intp, length: int) -> float:
    return float(index if index < length // 2 else index - length)


def _pictures(courses: Courses, origin: Floats, shape: tuple[int, int]) -> npt.NDArray[np.float32]:
    """Return (SECTORS, rows, columns) of how much line of each direction a cell has, what fields share taken off."""
    cell = np.rint((courses.points_mm - origin) / CELL_MM).astype(np.intp)
    inside = (cell >= 0).all(axis=1) & (cell[:, 0] < shape[1]) & (cell[:, 1] < shape[0])
    turn = courses.direction / np.pi * SECTORS
    low = np.floor(turn).astype(np.intp)
    part = turn - low
    pictures = np.zeros((SECTORS, *shape), dtype=np.float32)
    for sector, share in ((low % SECTORS, 1 - part), ((low + 1) % SECTORS, part)):
        amount = share * courses.length_mm * courses.weight
        np.add.at(pictures, (sector[inside], cell[inside, 1], cell[inside, 0]), amount[inside])
    # More than one line through a cell is no better evidence than one.
    pictures = np.minimum(pictures / np.float32(CELL_MM), np.float32(1.0))
    for picture in pictures:
        soft = gaussian_filter(picture, 0.8)
        picture[:] = soft - gaussian_filter(picture, TONE_CELLS)
    return np.asarray(pictures)
