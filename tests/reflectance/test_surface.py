"""Light is told from clouds of the paper by what the margin shows of both."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from proofkit.reflectance.surface import design, fit_surface, predicted, uncertainty

SPACING = 0.02
"""Of the blocks: 0.6 mm beside a plate of 45 x 35 mm."""

CLOUD_BLOCKS = 6
"""Standard deviation of the smoothing that makes clouds about 8 mm wide. [blocks]"""


def margin_and_plate(seed, light):
    """Return places and log levels of blocks of a margin with clouds of 0.3 %, and places inside the plate."""
    rng = np.random.default_rng(seed)
    u, v = np.meshgrid(np.arange(-1.15, 1.15, SPACING), np.arange(-0.95, 0.95, SPACING))
    cloud = gaussian_filter(rng.standard_normal(u.shape), CLOUD_BLOCKS)
    level = light(u, v) + 0.003 * cloud / cloud.std() + 0.001 * rng.standard_normal(u.shape)
    outside = (np.abs(u) > 0.82) | (np.abs(v) > 0.64)
    uv = np.stack((u, v), axis=-1)
    return uv[outside], level[outside], uv[~outside][::7]


def slow_light(u, v):
    """One scanner's fall-off: 1 % along x, 0.8 % to the ends of y."""
    return 0.005 * u - 0.008 * v**2


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


def plain_errors(uv, level, inside, light):
    """Errors of a polynomial of fourth order by least squares, by numpy alone."""
    coefficients = np.linalg.lstsq(design(uv, 4), level, rcond=None)[0]
    return design(inside, 4) @ coefficients - light(*inside.T)


def test_clouds_are_not_taken_for_light():
    errors, plain, stated = [], [], []
    for seed in range(20):
        uv, level, inside = margin_and_plate(seed, slow_light)
        surface = fit_surface(uv, level, spacing=SPACING)
        errors.append(predicted(surface, inside) - slow_light(*inside.T))
        plain.append(plain_errors(uv, level, inside, slow_light))
        stated.append(uncertainty(surface, inside))
    assert rms(errors) < 0.75 * rms(plain)
    assert 0.7 < rms(errors) / rms(stated) < 1.4


@pytest.mark.parametrize("term", [(4, 0), (3, 0), (2, 0), (1, 1)])
def test_light_that_is_there_is_kept(term):
    """A single strong term, also of high order, that the margin shows: found within 8 %, in the clouds' scatter."""
    i, j = term

    def light(u, v):
        return 0.05 * u**i * v**j

    errors = []
    for seed in range(8):
        uv, level, inside = margin_and_plate(seed, light)
        errors.append(predicted(fit_surface(uv, level, spacing=SPACING), inside) - light(*inside.T))
    assert abs(np.mean(errors)) < 0.004
    assert rms(errors) < 0.004


def test_blocks_that_are_alike_count_less():
    """Ten copies of every block say no more than one: the uncertainty stays what it was, within a fifth."""
    uv, level, inside = margin_and_plate(3, slow_light)
    ones = fit_surface(uv, level, spacing=SPACING)
    copies = fit_surface(np.repeat(uv, 10, axis=0), np.repeat(level, 10), spacing=SPACING)
    assert rms(uncertainty(copies, inside)) == pytest.approx(rms(uncertainty(ones, inside)), rel=0.2)


def differences(light, standards_light):
    """Rms difference of sheets under `light` from their standard, its light known and not; error over stated error."""
    known, unknown, errors, stated = [], [], [], []
    for edition in range(6):
        uv, level, inside = margin_and_plate(100 * edition, standards_light)
        standard = fit_surface(uv, level, spacing=SPACING)
        off = predicted(standard, inside) - standards_light(*inside.T)
        for sheet in range(1, 5):
            uv, level, _ = margin_and_plate(100 * edition + sheet, light)
            like = fit_surface(uv, level, spacing=SPACING, like=standard)
            errors.append(predicted(like, inside) - light(*inside.T))
            known.append(errors[-1] - off)
            unknown.append(
                predicted(fit_surface(uv, level, spacing=SPACING), inside) - light(*inside.T) - off
            )
            stated.append(uncertainty(like, inside))
    return rms(known), rms(unknown), rms(errors) / rms(stated)


def test_sheets_under_one_light_differ_less():
    known, unknown, ratio = differences(slow_light, slow_light)
    assert known < 0.75 * unknown
    assert 0.6 < ratio < 1.4


def test_a_sheet_that_lay_turned_on_the_bed_is_told_from_its_own_margin():
    """The standard's light is wrong there by 2 %; what is left of that is no more than clouds make."""

    def turned(u, v):
        return -0.01 * u + 0.012 * v**2

    known, unknown, ratio = differences(turned, slow_light)
    assert known < 1.3 * unknown
    assert 0.6 < ratio < 1.5
