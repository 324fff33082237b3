"""Light of one sheet foretold from another's, on sheets drawn by formula (`tests/states/test_differences.py`)."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.laying.rectify import plate_box
from proofkit.states.tone_response import foretold, light_of, tone_response
from tests.lines.drawn import stroke
from tests.states.test_differences import HATCHING, SIZE_MM, courses, sheet

BOX = plate_box(*SIZE_MM, 0.03)


def of_film(one, transmittance):
    """The same sheet under a film of ink that lets so much of the light through."""
    plane = np.rint(one.scan.plane * transmittance).astype(one.scan.plane.dtype)
    return replace(one, scan=replace(one.scan, plane=plane))


def misses(of, other):
    """How far the light of a sheet lies from what another one foretells. R/Rp"""
    expected = foretold(light_of(other, BOX), BOX, tone_response(of, other, SIZE_MM))
    return light_of(of, BOX) - expected


@pytest.mark.parametrize("transmittance", [0.85, 0.95])
def test_a_film_is_foretold_on_every_tone(transmittance):
    plain = sheet(HATCHING)
    # A grey film multiplies light (Beer and Lambert's law), so no place is left that it would not explain.
    filmed = misses(of_film(plain, transmittance), plain)
    assert np.abs(np.median(filmed)) < 0.005
    assert np.percentile(np.abs(filmed), 99) < 0.02


def test_more_ink_is_foretold_at_the_edges_of_lines():
    plain = sheet(HATCHING)
    broader = HATCHING.copy()
    broader[:, 4] *= 1.15
    inked = sheet(broader)
    raw = light_of(inked, BOX) - light_of(plain, BOX)
    assert np.sqrt(np.mean(misses(inked, plain) ** 2)) < np.sqrt(np.mean(raw**2)) / 3


def test_a_stroke_that_only_one_sheet_has_is_not_foretold():
    new = np.array([stroke(6.0, 6.05, 20, 6.0, 0.13)])
    more = sheet(np.concatenate((HATCHING, new)))
    at = courses(new).points_mm
    row, column = np.rint(at.T[::-1] / BOX.pitch_mm).astype(int)
    there = light_of(more, BOX)[row, column] - misses(more, sheet(HATCHING))[row, column]
    # Ground in the gaps: 1 without the stroke, which is 0.93 of the light at its core.
    assert np.percentile(there, 90) > 0.95


def test_places_beyond_the_scan_are_taken_for_paper():
    box = plate_box(30.0, 30.0, 0.1)
    assert np.all(light_of(sheet(HATCHING), box)[200:, 200:] == 1)
