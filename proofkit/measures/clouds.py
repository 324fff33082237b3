"""How far bare paper under a region strays from the level that the margin tells."""

import numpy as np

from proofkit.measures.uncertainty import combined
from proofkit.reflectance.types import CLOUD_MM

CLOUD_CELLS = 2.0
"""Squares of `CLOUD_MM` over which clouds in the paper are alike: they are about 3 mm wide (common practice)."""


def under_clouds(u_level: float, clouds: float, area_mm2: float) -> float:
    """Return the relative uncertainty of bare paper's level under a region of some area. [-]

    The margin tells the level, and how much paper of `CLOUD_MM` squares strays from it; a region averages over as many
    independent patches as it holds of `CLOUD_CELLS` squares.
    """
    patches = max(area_mm2 / (CLOUD_CELLS * CLOUD_MM**2), 1.0)
    return combined(u_level, clouds / float(np.sqrt(patches)))
