"""Even bare paper, as `find_paper` would find it."""

import numpy as np

from proofkit.reflectance.types import Paper
from tests.lines.drawn import PAPER_LEVEL


def even_paper(level=PAPER_LEVEL):
    coefficients = np.zeros((3, 3))
    coefficients[0, 0] = np.log(level)
    return Paper(coefficients, 0.0, 0.0, 1000.0, level, (95.0, 0.0, 2.0), 0.007, 0.001, 0.4)
