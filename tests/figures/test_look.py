"""Colours can be told apart: by contrast, by colour-blind eyes and in a grey print."""

import warnings

import numpy as np
import pytest

from proofkit.figures import look

with warnings.catch_warnings():
    warnings.filterwarnings("ignore", message='"Matplotlib"')  # colour-science would like to plot; we do not
    import colour


def linear(code: str) -> np.ndarray:
    return colour.cctf_decoding(np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) / 255, "sRGB")


def luminance(code: str) -> float:
    return float(linear(code) @ [0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("ink", [look.INK, look.SOFT_INK, look.SHEET_DOT, look.FINDING])
def test_text_and_signs_stand_out_from_paper(ink):
    # W3C, WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1 for text.
    lighter, darker = luminance(look.PAPER), luminance(ink)
    assert (lighter + 0.05) / (darker + 0.05) >= 4.5


def seen(code: str, deficiency: str) -> np.ndarray:
    # Machado, Oliveira and Fernandes 2009, complete deficiency; the matrices are those of colour-science.
    rgb = np.clip(colour.blindness.matrix_cvd_Machado2009(deficiency, 1.0) @ linear(code), 0, 1)
    return colour.XYZ_to_Lab(colour.RGB_to_XYZ(rgb, "sRGB"))


@pytest.mark.parametrize("deficiency", ["Protanomaly", "Deuteranomaly"])
@pytest.mark.parametrize(
    "pair", [(look.SHEET_DOT, look.FINDING), (look.FALLS_TO_RISES[0][1], look.FALLS_TO_RISES[-1][1])]
)
def test_colours_that_mean_different_things_stay_apart(deficiency, pair):
    # About 2 units are a just noticeable difference (common practice); ten times that is plain to see.
    difference = colour.delta_E(seen(pair[0], deficiency), seen(pair[1], deficiency), method="CIE 2000")
    assert difference >= 20


def test_scale_is_as_dark_at_both_ends_and_lightest_in_the_middle():
    levels = [luminance(code) for _, code in look.FALLS_TO_RISES]
    assert levels[0] < levels[1] < levels[2] > levels[3] > levels[4]
