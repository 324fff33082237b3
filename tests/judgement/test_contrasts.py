from dataclasses import replace

import numpy as np
import pytest

from proofkit.judgement.contrasts import with_contrasts
from proofkit.judgement.plate_figures import plate_figures
from proofkit.judgement.ramps import MIN_RAMP_REGIONS, with_load_ramps
from proofkit.judgement.values import Column, gather
from tests.judgement.press import HEIGHT_MM, REGIONS, WIDTH_MM, print_edition

PULLS = tuple(str(number) for number in range(1, 7))


@pytest.fixture(scope="module")
def edition():
    return print_edition([None, None], seed=4, pictures=False)


def values_of(measured, factor=None):
    values = gather(measured, PULLS, plate_figures({}, "1", PULLS))
    if factor is None:
        return values
    loads = ("line_load_um", "fine_line_load_um", "broad_line_load_um")
    changed = {
        name: replace(values.columns[name], scaled=values.columns[name].scaled + np.log(factor))
        for name in loads
    }
    return replace(values, columns=values.columns | changed)


def test_more_ink_on_a_sheet_drops_out_of_the_contrasts(edition):
    factor = np.array([1.0, 1.0, 1.0, 1.0, 1.0, 1.2])[:, None]
    plain = with_contrasts(values_of(edition), "1", frozenset())
    inky = with_contrasts(values_of(edition, factor), "1", frozenset())
    for name in ("fine_against_broad", "light_against_deep"):
        np.testing.assert_allclose(inky.columns[name].scaled, plain.columns[name].scaled, atol=1e-12)


def test_light_work_that_goes_first_is_a_fall(edition):
    load = values_of(edition).columns["line_load_um"]
    factor = np.ones((6, len(load.regions)))
    factor[5, load.on_standard < np.median(load.on_standard)] = 0.7
    plain = with_contrasts(values_of(edition), "1", frozenset()).columns["light_against_deep"].scaled[5, 0]
    wiped = (
        with_contrasts(values_of(edition, factor), "1", frozenset())
        .columns["light_against_deep"]
        .scaled[5, 0]
    )
    assert wiped - plain == pytest.approx(np.log(0.7), abs=1e-9)


def test_gaps_that_rise_with_the_film_are_no_contrast(edition):
    values = values_of(edition)
    film, gaps = values.columns["plate_tone_density"], values.columns["ground_between_lines_density"]
    veil = np.array([0, 0, 0, 0, 0, 0.05])[:, None]
    veiled = replace(
        values,
        columns=values.columns
        | {
            "plate_tone_density": replace(film, scaled=film.scaled + veil),
            "ground_between_lines_density": replace(gaps, scaled=gaps.scaled + veil),
        },
    )
    plain, with_veil = (
        with_contrasts(one, "1", frozenset()).columns["gaps_against_film"] for one in (values, veiled)
    )
    np.testing.assert_allclose(with_veil.scaled, plain.scaled, atol=1e-12)


def _centres(column: Column, edition):
    by_name = {region.name: region.outline_mm.centroid for region in edition.regions}
    return np.array([(by_name[name].x / WIDTH_MM, by_name[name].y / HEIGHT_MM) for name in column.regions])


def test_a_planted_ramp_of_line_work_is_recovered(edition):
    values = values_of(edition)
    centres = _centres(values.columns["line_load_um"], edition)
    ramp = np.ones((6, len(centres)))
    ramp[5] = np.exp(0.30 * centres[:, 0] - 0.10 * centres[:, 1])
    plain = with_load_ramps(values, "1", edition.regions, WIDTH_MM, HEIGHT_MM).columns
    tilted = with_load_ramps(values_of(edition, ramp), "1", edition.regions, WIDTH_MM, HEIGHT_MM).columns
    for axis, rise in (("x", 0.30), ("y", -0.10)):
        name = f"load_ramp_{axis}_fraction"
        assert tilted[name].scaled[5, 0] - plain[name].scaled[5, 0] == pytest.approx(rise, abs=1e-9)
        assert np.isnan(tilted[name].scaled[0, 0])


def test_regions_that_answer_differently_make_the_ramp_uncertain(edition):
    rough = np.ones((6, 8))
    rough[5] = np.exp(0.2 * np.array([1, -1, 1, -1, 1, -1, 1, -1]))
    column = with_load_ramps(values_of(edition, rough), "1", edition.regions, WIDTH_MM, HEIGHT_MM).columns[
        "load_ramp_x_fraction"
    ]
    assert column.uncertainties[5, 0] > 3 * column.uncertainties[4, 0]


def test_too_few_regions_leave_the_ramp_of_the_pictures():
    few = print_edition([None, None], seed=4, pictures=False, regions=REGIONS[: MIN_RAMP_REGIONS - 1])
    values = values_of(few)
    assert with_load_ramps(values, "1", few.regions, WIDTH_MM, HEIGHT_MM) is values
