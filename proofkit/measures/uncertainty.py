"""Standard uncertainties of measures: sampling, calibration and laying, combined as the GUM asks.

What is measured are the lines and the film of one region on one sheet as they are. Differences between lines of a
region are therefore no uncertainty of their middle; noise of the scan, paper grain, the ragged edge and what was not
sampled are. Spread from sheet to sheet is judgement's business, error from lay to lay that of the repeatability study.
"""

from dataclasses import dataclass

import numpy as np

from proofkit.measures.tone import PERCENTILES, ToneSlopes
from proofkit.quality import Quality

U_SCALE = 0.001
"""Relative standard uncertainty of millimetres: scanners differ by 0.1 to 0.3 % from their stated pitch (common
practice). [-]"""

U_CURVE_KNOWN, U_CURVE_ASSUMED = 0.01, 0.05
"""Relative standard uncertainty of densities by a curve that is stated, and by one that was assumed: exponents in use
lie between 1.8 and 2.4 (common practice). [-]"""

WEDGE_SPAN_DENSITY = 0.7
"""A wedge's residual is read as an error of the slope over about half of its usual span. [D]"""

CORE_BY_CURVE, EDGE_BY_CURVE = 0.2, 1.25
"""Relative change of a load for a relative change of all densities, -R ln R over 1 - R summed across a blurred line of
depth 0.93: of its core, and of its edges times blur over width (integrated; within 5 % from 3 blur sigmas on, up to
20 % too high below). [-]"""

WIDTH_BY_CURVE = 1.3
"""Change of a width for a relative change of all densities, in blur sigmas: twice what -R ln R has at half depth more
than half of what it has in the core, over the slope there, 0.93 / (sqrt(2 pi) s); depth 0.93. [-]"""

SOFTNESS_BY_CURVE = 0.4
"""Fall of a 10-90 % distance for a relative rise of all densities, in blur sigmas: -R ln R less its share of the core's
moves both points outward, over the slope ``depth phi(1.2816) / s`` by 0.43 and 0.78 s of one edge; depth 0.93, 0.95 has
0.42. [-]"""

HOLLOW_BY_CURVE = 1.9
"""Relative change of a hollow index for a relative change of all densities: ``1 + ln R + R ln R / (1 - R)`` of a core
of R = 0.07, by expansion in the index. [-]"""

EDGES_APART, SEEN_AS_ONE = 0.35, 1.45
"""How fast the edges of a line come apart with its width in blur sigmas, from where on: bars of 2 to 8 sigmas fitted by
a blur 1 % off, within 8 %. [-]"""

LOAD_BY_BLUR = 0.1
"""Relative change of a fitted load for a relative change of the blur: 0.06 to 0.11 for the same bars. [-]"""

SOLID = 0.93
"""Usual depth of lines, to tell a width from a load. [-]"""

U_DEPTH = 0.03
"""Standard uncertainty of the depth of lines too narrow to show it where no others tell it, relative. [-]"""

U_INTEGRAL = 0.002
"""Relative standard uncertainty of loads by the ends of the integral and the strips of ground: ruled lines at 600 ppi
read 0.2 % heavy. [-]"""

CODE_SLOPE = 2.2
"""Relative step of light for a relative step of code: the exponent of usual encodings."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """How well a sheet's numbers are tied to units. All relative standard uncertainties."""

    paper: float
    """Of the level of bare paper. [-]"""
    blur: float
    """Of the scan's blur. [-]"""
    curve: float
    """Of densities, by the tone curve. [-]"""
    depth: float = U_DEPTH
    """Of the depth near which lines were held that are too narrow to show it. [-]"""
    scale: float = U_SCALE
    """Of lengths. [-]"""


def curve_uncertainty(quality: Quality, residual_density: float) -> float:
    """Return the relative standard uncertainty of densities by the tone curve. [-]"""
    if Quality.CURVE_ASSUMED in quality:
        return U_CURVE_ASSUMED
    return max(residual_density / WEDGE_SPAN_DENSITY, U_CURVE_KNOWN if residual_density == 0 else 0.002)


@dataclass(frozen=True, slots=True)
class HatchSensitivity:
    """By how much load and ground of hatching move with what is not known of blur and depth."""

    load_by_blur: float
    """Relative change of load over relative change of blur. [-]"""
    load_by_depth: float
    """... over relative change of depth. [-]"""
    cover: float
    """Load over period. [-]"""

    @property
    def ground_by_blur(self) -> float:
        """Relative change of the ground: the mean light of a period is seen, whatever is assumed."""
        return self.load_by_blur * self.cover / (1 - self.cover)

    @property
    def ground_by_depth(self) -> float:
        """As `ground_by_blur`, by depth."""
        return self.load_by_depth * self.cover / (1 - self.cover)


def hatch_sensitivity(
    load_mm: float, width_mm: float, period_mm: float, blur_mm: float, held: float = 1.0
) -> HatchSensitivity:
    """Return how hatching's load and ground depend on blur and depth.

    `held` is the share of what is known of the depth that was taken from other lines.

    Notes
    -----
    Of a period p two things are seen: its mean ``G (1 - L)`` with L = load / p, and the amplitude of its first
    harmonic, ``2 G L sinc(w / p) exp(-2 pi² s² / p²)`` for width w and blur s (Fourier series of a bar). Their ratio
    is held fixed, with w = load / depth. With ``K = 1 - (pi w / p) cot(pi w / p)`` and ``h = 1 / (1 / (1 - L) - K)``
    that gives ``dL / L = h (4 pi² s² / p²) ds / s`` and ``dL / L = -h K dd / d``.
    """
    cover = float(np.clip(load_mm / period_mm, 0.0, 0.9))
    turn = float(np.clip(np.pi * width_mm / period_mm, 1e-3, 3.0))
    by_width = 1 - turn / np.tan(turn)
    taken = 1 / max(1 / (1 - cover) - by_width, 0.1)
    return HatchSensitivity(
        load_by_blur=float(taken * 4 * np.pi**2 * (blur_mm / period_mm) ** 2),
        load_by_depth=float(-taken * by_width * held),
        cover=cover,
    )


def quantisation(reflectance: float, white: float, bits: int, noise: float) -> float:
    """Return the relative standard uncertainty of a mean of light by the steps of the codes.

    Parameters
    ----------
    reflectance : float
        R/Rp of the tone. [-]
    white : float
        Bare paper against the scanner's white. [-]
    bits : int
        Of the file: 8 or 16.
    noise : float
        Standard deviation of pixels of that tone, relative to paper. [-]

    Notes
    -----
    A step q of a gamma encoding is ``2.2 / code`` of the light. Noise of s spreads codes over steps and takes the
    error of the mean down by ``exp(-2 pi² s² / q²)`` (characteristic function of the normal at the sampling
    frequency): half a code of noise leaves 0.7 %.
    """
    code = ((1 << bits) - 1) * max(reflectance * white, 1e-6) ** (1 / CODE_SLOPE)
    step = CODE_SLOPE / max(code, 1.0)
    dither = np.exp(-2 * np.pi**2 * (noise / max(reflectance, 1e-6) / step) ** 2)
    return float(step / np.sqrt(12) * dither)


def u_of_code(density: float, white: float, bits: int) -> float:
    """Return the standard uncertainty of a percentile of tone by the steps of the codes, however noisy they are. [D]

    A mean falls between codes where noise spreads it over them; a percentile is the tone of one of them, so that it is
    off by anything up to half a step.

    Parameters
    ----------
    density : float
        The percentile. [D]
    white, bits
        As in `quantisation`.
    """
    return quantisation(10**-density, white, bits, 0.0) / float(np.log(10))


def combined(*parts: float) -> float:
    """Return the root of the sum of squares of independent parts (GUM, JCGM 100:2008, 5.1.2)."""
    return float(np.sqrt(np.sum(np.square(parts))))


def u_share(share: float, count: int) -> float:
    """Return the standard uncertainty of a share of `count` crossings (binomial, at least one half of a crossing)."""
    return float(np.sqrt(max(share * (1 - share), 0.5 / max(count, 1)) / max(count, 1)))


@dataclass(frozen=True, slots=True)
class Situation:
    """What decides how a region's numbers depend on the calibration."""

    calibration: Calibration
    hatch: HatchSensitivity | None
    """None where lines stand alone."""
    blur_um: float
    film_from_gaps: bool
    quantisation: float
    """Relative uncertainty of the ground's light by the steps of the codes. [-]"""
    tone: ToneSlopes


LOADS = ("line_load_um", "fine_line_load_um", "broad_line_load_um")
WIDTHS = ("line_width_um", "fine_line_width_um", "broad_line_width_um")
DENSITIES = (*PERCENTILES, "line_core_density")
UNEVEN = ("plate_tone_unevenness_density", "plate_tone_unevenness_fine_density")
FILMS = ("plate_tone_density", "ground_between_lines_density")


def width_by_blur(width: float, blur: float) -> float:
    """Return by how much a fitted width falls for a relative rise of the blur, relative; both in one unit. [-]

    Of a narrow line only the variance s² + w² / 12 of its profile is seen, so dw / w = 12 s² / w² ds / s; a broad one
    shows two edges, which no blur moves. In between so much of it is left as refitted bars of 2 to 8 blur sigmas show.
    """
    sigmas = width / blur
    return 12 / sigmas**2 * min(1.0, float(np.exp(EDGES_APART * (SEEN_AS_ONE - sigmas))))


def depth_by_blur(width: float, blur: float) -> float:
    """Return by how much a fitted depth rises for a relative rise of the blur, relative; as `width_by_blur`. [-]"""
    return width_by_blur(width, blur) + LOAD_BY_BLUR


def load_by_curve(width: float, blur: float) -> float:
    """Return the relative change of a load for a relative change of all densities; width and blur in one unit."""
    return CORE_BY_CURVE + EDGE_BY_CURVE * blur / width


def with_calibration(row: dict[str, float], at: Situation) -> dict[str, float]:
    """Return the ``u_`` cells of a row with the calibration's part added to the sampling part that they hold.

    Measures without a sampling part, such as percentiles of many pixels, get the calibration's part alone.
    """
    cal, hatch = at.calibration, at.hatch
    found: dict[str, float] = {}
    by_hatch = (
        0.0 if hatch is None else combined(hatch.load_by_blur * cal.blur, hatch.load_by_depth * cal.depth)
    )
    for name in LOADS:
        if f"u_{name}" in row:
            width = max(row[name] / SOLID, at.blur_um)
            by_curve = load_by_curve(width, at.blur_um) * cal.curve
            found[name] = combined(
                row[f"u_{name}"], combined(cal.scale, U_INTEGRAL, by_curve, by_hatch) * row[name]
            )
    for name in WIDTHS:
        if f"u_{name}" in row:
            relative = combined(cal.scale, width_by_blur(row[name], at.blur_um) * cal.blur)
            by_curve = WIDTH_BY_CURVE * at.blur_um * cal.curve
            found[name] = combined(row[f"u_{name}"], relative * row[name], by_curve)
    for name in DENSITIES:
        if name in row:
            parts = (row.get(f"u_{name}", 0.0), cal.paper / np.log(10), cal.curve * row[name])
            found[name] = combined(*parts)
    for name in FILMS:
        if f"u_{name}" in row:
            ground = [cal.paper, at.quantisation]
            if hatch is not None and (at.film_from_gaps or name == "ground_between_lines_density"):
                ground += [hatch.ground_by_blur * cal.blur, hatch.ground_by_depth * cal.depth]
            found[name] = combined(row[f"u_{name}"], combined(*ground) / np.log(10), cal.curve * row[name])
    found |= _uneven(row, at) | _edges(row, at) | _tone(row, at)
    return {f"u_{name}": value for name, value in found.items()}


def _uneven(row: dict[str, float], at: Situation) -> dict[str, float]:
    """Return the uncertainty of a film's unevenness by curve and codes, whose steps add to its square."""
    step, found = at.quantisation / float(np.log(10)), {}
    for name in UNEVEN:
        if f"u_{name}" in row:
            by_codes = float(np.hypot(row[name], step)) - row[name]
            found[name] = combined(row[f"u_{name}"], at.calibration.curve * row[name], by_codes)
    return found


def _edges(row: dict[str, float], at: Situation) -> dict[str, float]:
    """Return the uncertainty of soft edges and pale centres by scale and curve, and by the part that the row holds."""
    cal, found = at.calibration, {}
    if "u_edge_softness_um" in row:
        soft, by_curve = row["edge_softness_um"], SOFTNESS_BY_CURVE * at.blur_um * cal.curve
        found["edge_softness_um"] = combined(row["u_edge_softness_um"], cal.scale * soft, by_curve)
    if "u_hollow_index" in row:
        by_curve = HOLLOW_BY_CURVE * row["hollow_index"] * cal.curve
        found["hollow_index"] = combined(row["u_hollow_index"], by_curve)
    return found


def _tone(row: dict[str, float], at: Situation) -> dict[str, float]:
    """Return the uncertainty of mean tone and lightness by outline, paper and curve."""
    light, outline = 1 - row["tone_fraction"], row.get("u_tone_fraction", 0.0)
    if light <= 0:
        return {}
    paper, curve, slopes = at.calibration.paper, at.calibration.curve, at.tone
    by_light = float(slopes.lightness_by_paper / light)
    return {
        "tone_fraction": combined(outline, light * paper, slopes.light_by_curve * curve),
        "lightness_mean": combined(
            by_light * outline, slopes.lightness_by_paper * paper, slopes.lightness_by_curve * curve
        ),
    }
