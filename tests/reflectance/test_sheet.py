"""The sheet is told from the bed of the scanner, and its paper is guessed before the plate is found."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.reflectance import find_sheet, rough_paper
from tests.reflectance.scenes import PAPER, Scene, scanned

WHOLE = (0, 0, 1400, 1800)

SCENES = {
    "black bed": Scene(),
    "white bed": Scene(bed=(0.86, 0.86, 0.86)),
    "bed at the end of the range": Scene(bed=(1, 1, 1)),
    "bed a little whiter": Scene(bed=(0.82, 0.82, 0.82)),
    "grey bed": Scene(bed=(0.4, 0.4, 0.4)),
    "bed a little darker": Scene(bed=(0.70, 0.70, 0.70)),
    "sheet in the corner": Scene(sheet=(0, 0, 1300, 1700)),
    "no bed": Scene(sheet=WHOLE),
    "no bed, heavy plate tone": Scene(sheet=WHOLE, film_density=0.3),
    "no bed, coarse paper": Scene(sheet=WHOLE, film_density=0.1, grain=0.02),
    "margin to the border beside a white bed": Scene(
        sheet=(60, 50, 1340, 1800), margins=(250,) * 4, bed=(0.86, 0.86, 0.86), film_density=0.12
    ),
    "no bed, film of warm ink": Scene(sheet=WHOLE, film_density=0.08, film_colour=(0.8, 1.0, 1.5)),
    "no bed, grainy film of a dry sheet": Scene(sheet=WHOLE, film_density=0.08, film_grain=0.6),
    "narrow margins": Scene(margins=(30, 35, 200, 150)),
}


@pytest.mark.parametrize("name", SCENES)
def test_sheet_and_its_paper(name):
    made = scanned(SCENES[name])
    found = find_sheet(made.scan)
    step = made.scan.overview_step
    truth = made.sheet[step // 2 :: step, step // 2 :: step][: found.shape[0], : found.shape[1]]
    assert found.shape == made.scan.overview.shape[:2]
    assert (found & truth).sum() / (found | truth).sum() > 0.98
    assert rough_paper(made.scan) == pytest.approx(np.dot(PAPER, (0.2126, 0.7152, 0.0722)), rel=0.03)


def test_things_beside_the_sheet_are_not_sheet():
    """A wedge and a rule on the bed, apart from the sheet."""
    made = scanned(Scene(size=(1600, 1800)))
    overview = made.scan.overview.copy()
    overview[100:700, 720:760] = np.linspace(0.9, 0.01, 600)[:, None, None]
    found = find_sheet(replace(made.scan, overview=overview))
    assert not found[100:700, 725:755].any()
    assert found[200:800, 100:600].all()


def test_blank_even_picture():
    made = scanned(
        Scene(bed=PAPER, sheet=(600, 800, 640, 840), margins=(1, 1, 1, 1), soiled=False, unevenness=0)
    )
    assert find_sheet(made.scan).mean() > 0.9


def test_of_noise_the_commonest_tone_is_taken():
    # No tone fills 3 % of a picture whose pixels are anything.
    made = scanned(SCENES["black bed"])
    rng = np.random.default_rng(1)
    noise = rng.uniform(0.001, 1.0, made.scan.overview.shape).astype(np.float32)
    assert 0 < rough_paper(replace(made.scan, overview=noise)) <= 1
