"""How well a print explains what a film has more than another, at every shift: correlation by Fourier transforms."""

from copy import copy
from typing import NamedTuple

import numpy as np
from scipy import fft

from proofkit.arrays import Floats, Mask, Picture, Spectrum


class AtRest(NamedTuple):
    """Transforms of a film that no turn of the print changes."""

    shape: tuple[int, ...]
    """Shifts go round: beyond the picture there is as much room as they take, and no more."""
    reach: int
    """Shifts along rows and columns. [cells]"""
    ground: Spectrum
    excess: Spectrum


def at_rest(ground: Mask, excess: Floats, reach: int) -> AtRest:
    """Return the transforms of a film, with room for shifts by `reach` cells. Both (rows, columns)."""
    shape = tuple(fft.next_fast_len(side + reach, real=True) for side in ground.shape)
    return AtRest(shape, reach, np.conj(spectrum(ground, shape)), spectrum(excess, shape))


def spectrum(values: Floats | Picture | Mask, shape: tuple[int, ...]) -> Spectrum:
    """Return the transform of a picture in a frame of `shape`."""
    return np.asarray(fft.rfft2(values.astype(np.float32), shape), dtype=np.complex64)


class Scores:
    """How well the mirrored print, without what changes slowly, explains an excess at every shift.

    `right` and `down` (shifts down, shifts right) are those shifts. [cells]
    """

    def __init__(self, rest: AtRest, fast: Picture) -> None:
        """Take the transforms of a film, and the mirrored print at rest without what changes slowly."""
        reach = rest.reach
        self._shape = rest.shape
        self._print = spectrum(fast, self._shape)
        down, right = (np.arange(-min(reach, n // 3), min(reach, n // 3) + 1) for n in fast.shape)
        # A print that is shifted to the right is found where the one at rest is read to the left.
        self._down, self._right = -down, -right
        self.right, self.down = np.meshgrid(right, down)
        power = self._near(spectrum(np.square(fast), self._shape) * rest.ground)
        self._root = np.sqrt(np.maximum(power, 1e-3 * power.max() + 1e-12))

    def turned(self, fast: Picture) -> "Scores":
        """Return the same of the print a little turned, whose spread is about the same."""
        other = copy(self)
        other._print = spectrum(fast, self._shape)
        return other

    def of(self, excess: Spectrum) -> Floats:
        """Return covariance with the print over the print's own spread, (shifts down, shifts right). [D]

        `excess` is its transform, of the same shape as those of `AtRest`.
        """
        cross = self._near(self._print * np.conj(excess))
        return np.asarray(cross / self._root, dtype=np.float64)

    def _near(self, spectrum: Spectrum) -> Picture:
        """Return what a spectrum is of at the shifts that are looked at: few rows are transformed the second way."""
        rows = fft.ifft(spectrum, axis=0)[self._down]
        return np.asarray(fft.irfft(rows, self._shape[1], axis=1)[:, self._right], dtype=np.float32)
