"""Where between samples a maximum lies."""

import numpy as np


def top_beside(before: float, middle: float, after: float) -> float:
    """Return how far the top of a parabola through a maximum and its neighbours lies from it, -0.5 to 0.5. [samples]

    0 where the three do not bend down, or a neighbour is not finite.

    >>> round(top_beside(0.75, 1.0, 0.95), 3)
    0.333
    """
    bend = before - 2 * middle + after
    if not np.isfinite(bend) or bend >= 0:
        return 0.0
    return float(np.clip((before - after) / (2 * bend), -0.5, 0.5))
