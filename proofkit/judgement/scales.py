"""Which measures are judged, on what scale, and the smallest difference that matters in each.

Every number here is a choice that a printer may disagree with, so all of them stand in one table, `JUDGED`. They
come from common practice of the trade (a steady printer's film varies by 0.01-0.03 D from pull to pull, loads
and widths by about 3 %, and by half of that at the least; a trained eye sees 0.010-0.015 D between patches side by
side) or from what a scan can
hold; none is fitted to an edition.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.folder.edition import Work

ScaleKind = Literal["log", "linear", "share", "root"]
"""`log` for sizes that vary in proportion, `linear` for densities, `share` for fractions of 0 to 1, `root` for
counts per area and for distances, which are never negative and skewed to the right."""

Sides = Literal["both", "upper", "lower"]
"""Directions in which a measure can leave the standard to the print's harm."""

ALL_WORK: tuple[Work, ...] = ("lines", "tone", "open", "drypoint")
LINE_WORK: tuple[Work, ...] = ("lines", "drypoint")
NOT_TONE: tuple[Work, ...] = ("lines", "open", "drypoint")
"""Dots and grain are what a tone is made of, so specks are not told from it."""


@dataclass(frozen=True, slots=True)
class Judged:
    """How one measure is judged."""

    measure: str
    """Column of `measurements` or `sheets`, or a figure of `columns.FIGURES`."""
    scale: ScaleKind
    usual: float
    """Spread between good pulls that a steady printer is known for; it counts as `PRIOR_PULLS` pulls. [on the scale]"""
    floor: float
    """Spread below which no edition is believed to repeat. [on the scale]"""
    matters: float
    """Smallest difference worth a look: relative on the `log` scale, else in the unit of the measure."""
    sides: Sides = "both"
    works: tuple[Work, ...] = ALL_WORK
    against_standard: bool = False
    """The measure is itself a distance from the standard, which therefore has nothing to say about its spread."""
    finds: bool = True
    """False for measures that only speak for or against causes, and for those that others already say: the load of fine
    lines is the line load and `fine_against_broad`, the ground between lines is the film and `gaps_against_film`."""
    source: str = "common practice"
    """Where the three numbers come from."""


REGION_MEASURES: tuple[Judged, ...] = (
    Judged("line_load_um", "log", 0.03, 0.015, 0.06, works=LINE_WORK),
    Judged("fine_line_load_um", "log", 0.03, 0.015, 0.08, works=LINE_WORK, finds=False),
    Judged("broad_line_load_um", "log", 0.03, 0.015, 0.08, works=LINE_WORK, finds=False),
    Judged("line_width_um", "log", 0.03, 0.015, 0.06, works=LINE_WORK),
    Judged(
        "line_core_density",
        "linear",
        0.04,
        0.03,
        0.08,
        works=LINE_WORK,
        source="1 L* at D 1.4 is 0.04 D (CIE 15)",
    ),
    Judged("line_continuity_fraction", "share", 0.03, 0.02, 0.02, "lower", LINE_WORK, against_standard=True),
    Judged("line_load_variation", "linear", 0.02, 0.015, 0.05, "upper", LINE_WORK, against_standard=True),
    Judged("tone_fraction", "linear", 0.02, 0.01, 0.03, works=("tone",)),
    Judged("tone_distance_density", "root", 0.035, 0.025, 0.02, "upper", against_standard=True),
    Judged("mottle_density", "linear", 0.003, 0.002, 0.010, "upper", against_standard=True),
    Judged("plate_tone_density", "linear", 0.010, 0.006, 0.015),
    Judged("plate_tone_unevenness_density", "linear", 0.003, 0.003, 0.010, "upper"),
    Judged("plate_tone_slope_density_per_100mm", "linear", 0.05, 0.02, 0.10, "upper", finds=False),
    Judged("streak_density", "linear", 0.003, 0.002, 0.006, "upper"),
    Judged("ground_between_lines_density", "linear", 0.012, 0.007, 0.02, finds=False),
    Judged("hatch_open_fraction", "share", 0.03, 0.02, 0.05, against_standard=True),
    Judged("halo_density", "linear", 0.005, 0.004, 0.010),
    Judged("dark_specks_per_cm2", "root", 0.2, 0.15, 0.5, "upper", NOT_TONE, against_standard=True),
    Judged("light_specks_per_cm2", "root", 0.2, 0.15, 0.5, "upper", NOT_TONE, against_standard=True),
    Judged("edge_softness_um", "log", 0.05, 0.05, 0.15, works=LINE_WORK, finds=False),
    Judged("hollow_index", "linear", 0.03, 0.03, 0.08, works=LINE_WORK, finds=False),
    Judged("tone_gain", "linear", 0.03, 0.03, 0.08, against_standard=True, finds=False),
)
"""Judged in every region where they were measured."""

SHEET_MEASURES: tuple[Judged, ...] = (
    Judged(
        "doubling_fraction", "linear", 0.02, 0.02, 0.06, "upper", source="seen as a ghost beside black lines"
    ),
    Judged(
        "set_off_density",
        "linear",
        0.005,
        0.005,
        0.02,
        "upper",
        source="a ghost of 0.02 D at its blackest is seen on open ground (common practice)",
    ),
    Judged("crease_mm", "linear", 3.0, 2.0, 8.0, "upper", source="shorter ones are fibres and hairs"),
    Judged("bevel_density", "linear", 0.02, 0.015, 0.05, "upper"),
    Judged(
        "misfit_um",
        "linear",
        10.0,
        10.0,
        60.0,
        "upper",
        against_standard=True,
        source="one fine line's width",
    ),
    Judged(
        "paper_density",
        "linear",
        0.008,
        0.004,
        0.022,
        source="paper of one make keeps within 2 L*, which is 0.022 D near paper white (CIE 15)",
    ),
    Judged("ink_a", "linear", 0.6, 0.5, 2.0, source="2 units side by side; one mix of ink keeps within 1"),
    Judged("ink_b", "linear", 0.6, 0.5, 2.0, source="2 units side by side; one mix of ink keeps within 1"),
    Judged("blur_um", "log", 0.10, 0.10, 0.40, "upper", source="a scan out of focus, not the press"),
)
"""Judged once a sheet, from the table `sheets`."""

PLATE_MEASURES: tuple[Judged, ...] = (
    Judged("film_ramp_x_density", "linear", 0.010, 0.008, 0.025, against_standard=True),
    Judged("film_ramp_y_density", "linear", 0.010, 0.008, 0.025, against_standard=True),
    Judged("load_ramp_x_fraction", "linear", 0.03, 0.02, 0.08, against_standard=True),
    Judged("load_ramp_y_fraction", "linear", 0.03, 0.02, 0.08, against_standard=True),
    Judged("film_patch_density", "linear", 0.004, 0.003, 0.012, "upper", against_standard=True),
    Judged("load_patch_fraction", "linear", 0.015, 0.010, 0.05, "upper", against_standard=True),
    Judged("load_grain_fraction", "linear", 0.015, 0.010, 0.05, "upper", against_standard=True),
)
"""Judged once a sheet, from the coarse tone pictures; see `plate_figures`."""

CONTRASTS: dict[str, Judged] = {
    "fine_against_broad": Judged(
        "fine_against_broad", "linear", 0.02, 0.015, 0.05, source="half of a load's spread"
    ),
    "light_against_deep": Judged("light_against_deep", "linear", 0.03, 0.02, 0.06),
    "gaps_against_film": Judged("gaps_against_film", "linear", 0.010, 0.008, 0.02),
    "patch_against_grain": Judged(
        "patch_against_grain", "linear", 0.2, 0.15, 0.3, against_standard=True, finds=False
    ),
    "drypoint_against_rest": Judged("drypoint_against_rest", "linear", 0.03, 0.02, 0.08),
}
"""Differences of two measures of one sheet; see `contrasts`."""

JUDGED = REGION_MEASURES + SHEET_MEASURES + PLATE_MEASURES + tuple(CONTRASTS.values())
BY_NAME = {judged.measure: judged for judged in JUDGED}

LOG_LEAST = 1e-3
"""Sizes below this count as this on the `log` scale. [unit of the measure]"""

_SHARE_EDGE = 1e-4


def to_scale(scale: ScaleKind, values: Floats) -> Floats:
    """Return `values` on the scale on which their spread does not depend on their size.

    Parameters
    ----------
    scale : ScaleKind
        `log`: natural logarithm; `share`: arc sine of the root; `root`: square root; `linear`: as they are.
    values : Floats
        Any shape, in the unit of the measure; NaN stays NaN. On the `log` scale a size under `LOG_LEAST` counts
        as `LOG_LEAST`: a line that has vanished is far off, not unmeasured.

    Returns
    -------
    Floats
        Same shape.

    References
    ----------
    .. [1] M. S. Bartlett, The use of transformations, Biometrics 3 (1947) 39-52: root for counts, arc sine of the
       root for fractions, logarithm where the spread is proportional.

    Examples
    --------
    >>> to_scale("root", np.array([4.0])).tolist()
    [2.0]
    """
    match scale:
        case "log":
            return np.asarray(np.log(np.maximum(values, LOG_LEAST)))
        case "share":
            return np.asarray(np.arcsin(np.sqrt(np.clip(values, 0.0, 1.0))))
        case "root":
            return np.asarray(np.sqrt(np.maximum(values, 0.0)))
        case "linear":
            return np.asarray(values, dtype=np.float64)


def from_scale(scale: ScaleKind, values: Floats) -> Floats:
    """Return values in the unit of the measure; the inverse of `to_scale`.

    >>> from_scale("root", np.array([2.0])).tolist()
    [4.0]
    """
    match scale:
        case "log":
            return np.asarray(np.exp(values))
        case "share":
            return np.asarray(np.sin(np.clip(values, 0.0, np.pi / 2)) ** 2)
        case "root":
            return np.asarray(np.maximum(values, 0.0) ** 2)
        case "linear":
            return np.asarray(values, dtype=np.float64)


def steepness(scale: ScaleKind, values: Floats) -> Floats:
    """Return how much the scale moves per unit of the measure at `values`; carries uncertainties over."""
    match scale:
        case "log":
            return np.asarray(1.0 / np.maximum(values, LOG_LEAST))
        case "share":
            inside = np.clip(values, _SHARE_EDGE, 1 - _SHARE_EDGE)
            return np.asarray(0.5 / np.sqrt(inside * (1 - inside)))
        case "root":
            return np.asarray(0.5 / np.sqrt(np.maximum(values, 0.05)))
        case "linear":
            return np.ones_like(np.asarray(values, dtype=np.float64))


def is_worth_a_look(judged: Judged, values: Floats, centre: Floats) -> Mask:
    """Return where `values` differ from `centre` by more than the smallest difference that matters.

    Parameters
    ----------
    judged : Judged
    values, centre : Floats
        In the unit of the measure; shapes that broadcast.

    Returns
    -------
    Mask
        False where either is NaN.
    """
    if judged.scale == "log":
        with np.errstate(divide="ignore", invalid="ignore"):
            difference = np.asarray(values / centre - 1.0)
    else:
        difference = np.asarray(values - centre)
    if judged.sides == "upper":
        return np.asarray(difference >= judged.matters)
    if judged.sides == "lower":
        return np.asarray(-difference >= judged.matters)
    return np.asarray(np.abs(difference) >= judged.matters)
