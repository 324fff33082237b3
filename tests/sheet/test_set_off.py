"""A mirrored ghost of the plate on proofs drawn by formula: its density and place are how it was drawn."""

import numpy as np
import pytest

from tests.laying.plates import lie
from tests.sheet.proofs import Proof

FILM = 0.03
"""Of the standard. Lines of depth d print 1 - (1 - d) 10^-F of ink there, which has the slope 10^-F on d."""


@pytest.mark.parametrize(
    ("density", "shift", "turn", "film"),
    [(0.05, (1.5, -2.0), 0.0, 0.03), (0.03, (-3.0, 0.8), 0.0, 0.06), (0.12, (0.4, 0.3), 0.5, 0.03)],
)
def test_a_ghost_tells_its_density_and_place(bench, density, shift, turn, film):
    proof = Proof(film=film, set_off=density, set_off_mm=shift, set_off_turn_deg=turn, seed=11)
    sheet = bench.measure("ghost", proof).sheet
    expected = density * 10**FILM
    assert sheet["set_off_density"] == pytest.approx(expected, abs=max(2 * sheet["u_set_off_density"], 0.005))
    assert 0 < sheet["u_set_off_density"] < 0.25 * expected
    assert sheet["set_off_x_mm"] == pytest.approx(shift[0], abs=0.15)
    assert sheet["set_off_y_mm"] == pytest.approx(shift[1], abs=0.15)


@pytest.mark.parametrize(
    "proof",
    [
        Proof(seed=12),
        Proof(film=0.09, how=lie(warp_mm=0.08, stretch=(1.003, 0.997), turn_deg=0.3), seed=13),
        Proof(ghost_mm=(0.12, -0.06), seed=14),
        Proof(crease_mm=((1.5, 2.0), (22.0, 4.0)), seed=15),
        Proof(specks_mm=((18.0, 19.5), (19.5, 20.2), (21.0, 22.1)), seed=16),
    ],
    ids=["twin", "filmed and stretched", "doubled", "creased", "specked"],
)
def test_other_sheets_show_none(bench, proof):
    sheet = bench.measure("none", proof).sheet
    assert sheet["set_off_density"] == 0
    assert np.isfinite(sheet["u_set_off_density"])
    assert np.isnan(sheet["set_off_x_mm"])
