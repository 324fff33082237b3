"""Rows of crossings are left out of a set of lines, by construction of a square lattice."""

import numpy as np
import pytest

from proofkit.lines.lattice import without_rows
from proofkit.lines.types import LineMap

SPACING = 0.15
PITCH = 0.2
ROW = PITCH / np.sqrt(2)
"""Distance of the rows that run over the crossings of a square lattice, along its diagonal. [mm]"""


def parallel(angle_deg, places_mm, contrast, half_mm=4.0):
    """Straight lines at distances from the middle: a list of (points, normal, contrast)."""
    turn = np.radians(angle_deg)
    along, across = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    steps = np.arange(-half_mm, half_mm, SPACING)
    return [(place * across + steps[:, None] * along, across, contrast) for place in places_mm]


def line_map(lines):
    counts = [len(points) for points, _, _ in lines]
    return LineMap(
        np.concatenate([points for points, _, _ in lines]) + 10.0,
        np.repeat([normal for _, normal, _ in lines], counts, axis=0),
        np.repeat(np.arange(len(lines), dtype=np.int32), counts),
        np.full(sum(counts), SPACING),
        np.repeat([contrast for _, _, contrast in lines], counts),
    )


LATTICE = [line for angle in (0, 90) for line in parallel(angle, PITCH * np.arange(-20, 21), 0.27)]


def kept_of(more):
    """How many of some lines stay beside the lattice, all of which has to stay."""
    kept = without_rows(line_map([*LATTICE, *more]), SPACING)
    diagonal = np.abs(kept.normals[:, 0] * kept.normals[:, 1]) > 0.4
    assert len(np.unique(kept.line[~diagonal])) == len(LATTICE)
    return len(np.unique(kept.line[diagonal]))


@pytest.mark.parametrize("over", [0, 7, 10])
def test_rows_are_dropped_also_where_some_slip_over_the_crossings(over):
    # A row over the crossings meets both directions at once, one between them meets them in turn.
    between = parallel(45, ROW * (np.arange(-7, 7) + 0.5), 0.11)
    assert kept_of([*between, *parallel(45, ROW * np.arange(over), 0.11)]) == 0


def test_a_third_layer_along_the_diagonal_stays():
    # Its own pitch, a third wider than that of the rows, brings its lines to the crossings in ever other steps.
    assert kept_of(parallel(45, 1.37 * ROW * np.arange(-6, 7), 0.15)) == 13
