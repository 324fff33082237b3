"""Length of line per area of drawn hatching: parallel lines a spacing s apart have 1/s, crossed ones 1/s1 + 1/s2.

Identities of stereology (E. E. Underwood, Quantitative Stereology, 1970, and the theorem of Crofton, from memory; the
values by algebra): 5 lines/mm have 5 mm/mm². Lines of 0.05 mm every 0.20 and 0.25 mm at right angles have 9 mm/mm² and
cover 1 - (1 - w/s1)(1 - w/s2) = 0.40. By counts of digital steps a line at 22.5 degrees would read 8 % too long or too
short; the finder must not, in any direction.
"""

import numpy as np
import pytest

from proofkit.lines.centrelines import find_lines
from tests.lines.drawn import hatching, ink_picture
from tests.sheet.proofs import Proof, by_region, make_bench

PITCH = 0.03


@pytest.mark.parametrize("angle", [0, 10, 22.5, 35, 45, 67.5, 90])
def test_no_direction_reads_longer(angle):
    strokes = hatching(angle, 0.25, 0.06, middle=(5.0, 5.0), length=14.0, lines=56)
    lines = find_lines(ink_picture(strokes, (10.0, 10.0), PITCH, 0.022), PITCH, 0.02)
    # A disc of 4 mm radius about the middle holds the same length in every direction.
    inside = np.hypot(*(lines.points_mm - 5.0).T) < 4.0
    per_area = lines.length_mm[inside].sum() / (np.pi * 4.0**2)
    assert per_area == pytest.approx(1 / 0.25, rel=0.02)


@pytest.fixture(scope="module")
def rows(tmp_path_factory):
    bench = make_bench(tmp_path_factory.mktemp("edition"))
    return by_region(bench.measure("stereology", Proof(seed=21)))


def test_hatching(rows):
    assert rows["hatch"]["line_length_mm_per_mm2"] == pytest.approx(5.0, rel=0.01)
    assert rows["hatch"]["lines_per_mm"] == pytest.approx(5.0, rel=0.003)


def test_cross_hatching(rows):
    assert rows["cross"]["line_length_mm_per_mm2"] == pytest.approx(9.0, rel=0.02)
    # The solid tone is that of lines whose core the blur has lightened by 3 %, so area reads high by as much.
    assert rows["cross"]["line_area_fraction"] == pytest.approx(0.40, abs=0.016)
    assert rows["hatch"]["line_area_fraction"] == pytest.approx(0.30, abs=0.012)
