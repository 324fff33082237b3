"""Compiled reading of profiles across lines, in a scan's own pixels."""

import numpy as np

from proofkit.arrays import Floats, Picture, Plane, Points
from proofkit.scan.compiling import kernel


@kernel
def _cubic_weights(t: float, weights: Floats) -> None:
    """Fill the four weights of cubic convolution (Keys 1981, a = -1/2) at a fraction `t` of a pixel."""
    weights[0] = ((-0.5 * t + 1.0) * t - 0.5) * t
    weights[1] = (1.5 * t - 2.5) * t * t + 1.0
    weights[2] = ((-1.5 * t + 2.0) * t + 0.5) * t
    weights[3] = (0.5 * t - 0.5) * t * t


@kernel
def sample_profiles(
    plane: Plane, centres: Points, steps: Points, half: int, coefficients: Floats, surface: Floats
) -> Picture:
    """Return (n, 2 half + 1) reflectance against paper along `steps` through `centres`; NaN outside."""
    h, w = plane.shape
    n = centres.shape[0]
    m = 2 * half + 1
    out = np.empty((n, m), dtype=np.float32)
    wx = np.empty(4)
    wy = np.empty(4)
    for i in range(n):
        length = np.sqrt(steps[i, 0] ** 2 + steps[i, 1] ** 2)
        tx = -steps[i, 1] / length * 0.7
        ty = steps[i, 0] / length * 0.7
        u = (centres[i, 0] - surface[0]) / surface[2]
        v = (centres[i, 1] - surface[1]) / surface[2]
        log_level = 0.0
        for a in range(3):
            for b in range(3 - a):
                log_level += coefficients[a, b] * u**a * v**b
        gain = 1.0 / (3.0 * 65535.0 * np.exp(log_level))
        for k in range(m):
            x = centres[i, 0] + (k - half) * steps[i, 0]
            y = centres[i, 1] + (k - half) * steps[i, 1]
            total = 0.0
            inside = True
            for side in range(-1, 2):
                px = x + side * tx
                py = y + side * ty
                column = int(np.floor(px))
                row = int(np.floor(py))
                if column < 1 or row < 1 or column >= w - 2 or row >= h - 2:
                    inside = False
                    break
                _cubic_weights(px - column, wx)
                _cubic_weights(py - row, wy)
                for r in range(4):
                    line = 0.0
                    for c in range(4):
                        line += wx[c] * plane[row - 1 + r, column - 1 + c]
                    total += wy[r] * line
            out[i, k] = total * gain if inside else np.nan
    return out
