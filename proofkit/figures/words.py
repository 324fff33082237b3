"""Names of measures, units and numbers as people read them on charts and in the report."""

import math

from proofkit import columns

MEASURE_WORDS: dict[str, str] = {
    "line_load_um": "Line load",
    "fine_line_load_um": "Line load, finest lines",
    "broad_line_load_um": "Line load, broadest lines",
    "line_width_um": "Line width",
    "fine_line_width_um": "Width, fine lines",
    "broad_line_width_um": "Width, broad lines",
    "line_core_density": "Darkness of the line core",
    "line_length_mm_per_mm2": "Length of line per area",
    "lines_per_mm": "Lines per mm",
    "line_angle_deg": "Direction of the lines",
    "second_lines_per_mm": "Lines per mm, second direction",
    "second_line_angle_deg": "Second direction of cross-hatching",
    "line_area_fraction": "Share covered by line",
    "line_continuity_fraction": "Share of line length that prints",
    "line_load_variation": "Unevenness along the lines",
    "edge_softness_um": "Softness of the line edge",
    "edge_raggedness_um": "Raggedness of the line edge",
    "hollow_index": "Hollowness of lines",
    "burr_load_um": "Ink in the burr",
    "burr_width_um": "Width of the burr",
    "burr_asymmetry": "One-sidedness of the burr",
    "tone_fraction": "Tone",
    "density_p05": "Density, lightest twentieth",
    "density_p25": "Density, light quarter",
    "density_p50": "Density, middle",
    "density_p75": "Density, dark quarter",
    "density_p95": "Density, darkest twentieth",
    "lightness_mean": "Lightness",
    "lightness_sd": "Spread of lightness",
    "tone_distance_density": "Distance of the tones from the standard's",
    "tone_gain": "Contrast against the standard",
    "mottle_density": "Mottle",
    "plate_tone_density": "Plate tone",
    "plate_tone_unevenness_density": "Unevenness of the plate tone",
    "plate_tone_unevenness_fine_density": "Fine unevenness of the plate tone",
    "plate_tone_slope_density_per_100mm": "Slope of the plate tone",
    "plate_tone_slope_deg": "Direction of that slope",
    "streak_density": "Wipe streaks",
    "streak_deg": "Direction of the streaks",
    "ground_between_lines_density": "Ground between the lines",
    "hatch_open_fraction": "Openness of the hatching",
    "halo_density": "Tone close to the lines",
    "dark_specks_per_cm2": "Dark specks",
    "light_specks_per_cm2": "Light specks",
    "plate_width_mm": "Plate mark, width",
    "plate_height_mm": "Plate mark, height",
    "stretch_x": "Stretch across",
    "stretch_y": "Stretch down",
    "shear": "Skew of the sheet",
    "rotation_deg": "Turn in the scan",
    "misfit_um": "Misfit on the standard",
    "blur_um": "Blur of the scan",
    "mtf50_per_mm": "Frequency of half contrast",
    "noise_fraction": "Noise of the scan",
    "bits": "Depth of codes",
    "paper_density": "Bare paper",
    "paper_a": "Bare paper, a*",
    "paper_b": "Bare paper, b*",
    "ink_lightness": "Ink, lightness",
    "ink_a": "Ink, a*",
    "ink_b": "Ink, b*",
    "film_lightness": "Film, lightness",
    "film_a": "Film, a*",
    "film_b": "Film, b*",
    "paper_colour_difference": "Colour of the paper, off the standard's",
    "ink_colour_difference": "Colour of the ink, off the standard's",
    "film_colour_difference": "Colour of the film, off the standard's",
    "bevel_density": "Ink in the plate mark",
    "doubling_um": "Doubling",
    "doubling_deg": "Direction of the doubling",
    "doubling_fraction": "Strength of the second set of lines",
    "set_off_density": "Mirrored ghost of the print",
    "u_set_off_density": "Mirrored ghost of the print, uncertainty",
    "set_off_x_mm": "Shift of the ghost, to the right",
    "set_off_y_mm": "Shift of the ghost, down",
    "crease_mm": "Creases",
    "film_ramp_x_density": "Rise of the film, left to right",
    "film_ramp_y_density": "Rise of the film, top to bottom",
    "film_patch_density": "Patches in the film",
    "load_ramp_x_fraction": "Rise of the line work, left to right",
    "load_ramp_y_fraction": "Rise of the line work, top to bottom",
    "load_patch_fraction": "Patches in the line work",
    "load_grain_fraction": "Grain in the line work",
    "fine_against_broad": "Fine lines against broad ones",
    "light_against_deep": "Light work against deep work",
    "gaps_against_film": "Gaps of the hatching against open film",
    "patch_against_grain": "Patches against grain in the line work",
    "own_places": "Places that no other pull has",
    "film_distance": "Film, all its measures together",
    "line_distance": "Line work, all its measures together",
    "hatching_distance": "Gaps of hatching, all their measures together",
    "drypoint_against_rest": "Drypoint against the other lines",
}
"""What each measure is called on charts; the column name stays in the tables."""

PRIMARY = (
    "line_load_um",
    "plate_tone_density",
    "tone_fraction",
    "ground_between_lines_density",
    "line_continuity_fraction",
)
"""Measures that are read first: lines, film, tone, hatching, broken lines."""

TELLING = (
    *PRIMARY,
    "fine_line_load_um",
    "broad_line_load_um",
    "line_width_um",
    "line_core_density",
    "plate_tone_slope_density_per_100mm",
    "streak_density",
    "hatch_open_fraction",
    "halo_density",
    "dark_specks_per_cm2",
    "light_specks_per_cm2",
    "doubling_fraction",
    "set_off_density",
    "crease_mm",
    "bevel_density",
    "misfit_um",
    "blur_um",
    "paper_density",
    "film_ramp_x_density",
    "film_ramp_y_density",
)
"""Measures that name what is seen; the others say how far or how even, and are read after them."""

SHEET = "sheet"
"""Name that stands for the whole sheet where a region is expected."""

_DECIMALS = {
    "µm": 1,
    "mm": 1,
    "deg": 0,
    "D": 3,
    "L*": 1,
    "1/mm": 2,
    "1/cm²": 2,
    "mm/mm²": 2,
    "D/100 mm": 3,
    "ΔE00": 1,
    "spreads": 1,
    "-": 3,
}
_DECIMALS_OF = {"stretch_x": 4, "stretch_y": 4, "shear": 4, "rotation_deg": 2} | dict.fromkeys(
    ("paper_a", "paper_b", "ink_a", "ink_b", "film_a", "film_b"), 1
)
_COLUMNS = {column.name: column for column in columns.MEASURES + columns.SHEETS + columns.FIGURES}


def measure_word(measure: str) -> str:
    """Return the name of a measure for people; an unknown one is read off its column name.

    >>> measure_word("plate_tone_density")
    'Plate tone'
    """
    return MEASURE_WORDS.get(measure, measure.replace("_", " "))


def unit_of(measure: str) -> str:
    """Return the unit of a measure as written after a number, empty for none.

    >>> unit_of("line_load_um"), unit_of("tone_fraction")
    ('µm', '')
    """
    column = _COLUMNS.get(measure)
    return "" if column is None or column.unit == "-" else column.unit


def meaning_of(measure: str) -> str:
    """Return the one line that says what a measure is, from the column registry."""
    column = _COLUMNS.get(measure)
    return "" if column is None else column.meaning


def axis_title(measure: str) -> str:
    """Return the title of an axis: unit, or what a bare number stands for.

    >>> axis_title("line_load_um"), axis_title("tone_fraction")
    ('µm', 'share, 0 to 1')
    """
    if unit := unit_of(measure):
        return "density, D" if unit == "D" else unit
    return "share, 0 to 1" if measure.endswith("_fraction") else "ratio"


def number(measure: str, value: float) -> str:
    """Return a value with its unit, `–` where there is none.

    >>> number("line_load_um", 41.26), number("plate_tone_density", float("nan"))
    ('41.3 µm', '–')
    """
    if not math.isfinite(value):
        return "–"
    return f"{bare_number(measure, value)} {unit_of(measure)}".rstrip()


def with_uncertainty(measure: str, value: float, u: float) -> str:
    """Return a value with its standard uncertainty and unit, as far as there is one.

    >>> with_uncertainty("line_load_um", 29.44, 0.12), with_uncertainty("plate_tone_density", 0.005, 0.0002)
    ('29.4 ± 0.1 µm', '0.005 D, ± under 0.001')
    """
    if not (math.isfinite(value) and math.isfinite(u)):
        return number(measure, value)
    shown = bare_number(measure, u)
    if float(shown) > 0:
        return f"{bare_number(measure, value)} ± {shown} {unit_of(measure)}".rstrip()
    return f"{number(measure, value)}, ± under {10.0 ** -_decimals(measure):.{_decimals(measure)}f}"


def _decimals(measure: str) -> int:
    column = _COLUMNS.get(measure)
    return _DECIMALS_OF.get(measure, _DECIMALS.get(column.unit, 3) if column else 3)


def bare_number(measure: str, value: float) -> str:
    """Return a value without its unit, `–` where there is none; a true minus sign for people.

    >>> bare_number("plate_tone_density", -0.0126)
    '−0.013'
    """
    if not math.isfinite(value):
        return "–"
    text = f"{value:.{_decimals(measure)}f}"
    return "−" + text[1:] if text.startswith("-") and float(text) != 0 else text.removeprefix("-")
