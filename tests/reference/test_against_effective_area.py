"""Area covered by line, after Murray and Davies: A. Murray, J. Franklin Institute 221 (1936) 721-744.

``a = (1 - 10**-Dt) / (1 - 10**-Ds)`` with tint and solid relative to their ground, the form that ISO 12647-2 uses too.
The rows are computed from it, by hand and with numpy, to five figures. Worked case: lines of 0.060 mm every
0.200 mm, paper D 0.08, ink D 1.38, wiping film D 0.06 on the unworked ground only.
"""

import numpy as np
import pytest

from proofkit.measures.line_area import area_fraction


@pytest.mark.parametrize(
    ("tint", "solid", "area"),
    [
        (0.02, 1.40, 0.04687),
        (0.05, 1.40, 0.11326),
        (0.10, 1.40, 0.21420),
        (0.30, 1.40, 0.51949),
        (0.50, 1.60, 0.70139),
        (1.00, 1.50, 0.92939),
    ],
)
def test_rows_of_the_formula(tint, solid, area):
    assert area_fraction(10**-tint, 1.0, 10**-solid) == pytest.approx(area, abs=5e-6)


def test_film_is_not_line():
    paper, ink, film = 10**-0.08, 10**-1.38, 10**-0.14
    mean = 0.30 * ink + 0.70 * film
    assert -np.log10(mean) == pytest.approx(0.284321, abs=5e-7)
    assert area_fraction(mean, film, ink) == pytest.approx(0.300000, abs=5e-7)
    # Against bare paper the film counts as line: wrong by a third.
    assert area_fraction(mean, paper, ink) == pytest.approx(0.395091, abs=5e-7)


def test_no_contrast_has_no_area():
    assert np.isnan(area_fraction(0.9, 0.95, 0.9))
    assert np.isnan(area_fraction(0.9, float("nan"), 0.1))
    assert area_fraction(0.99, 0.95, 0.1) == 0.0
