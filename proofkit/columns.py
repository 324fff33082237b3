"""Every column of every table, declared once: name, kind, unit, meaning.

The tables are pandas DataFrames and CSV/Parquet files with exactly these columns in this order. DEVELOPERS.md
shows the same list and a test holds the two together.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

Kind = Literal["text", "number", "flag"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table."""

    name: str
    """Name in the table and in Python; the unit ends the name where there is one."""
    kind: Kind
    """`text`, `number` (float64, empty = not measurable) or `flag` (true/false)."""
    unit: str
    """Unit, `-` for none."""
    meaning: str
    """One line for a reader of the table."""


def _numbers(*rows: tuple[str, str, str]) -> tuple[Column, ...]:
    return tuple(Column(name, "number", unit, meaning) for name, unit, meaning in rows)


def _texts(*rows: tuple[str, str]) -> tuple[Column, ...]:
    return tuple(Column(name, "text", "-", meaning) for name, meaning in rows)


LINE_MEASURES = _numbers(
    ("line_load_um", "µm", "median over crossings of the integral of 1 - R/Rg across the line"),
    ("fine_line_load_um", "µm", "line load of the finest third of the standard's lines in the region"),
    ("broad_line_load_um", "µm", "line load of the broadest third of the standard's lines in the region"),
    ("line_width_um", "µm", "width of the line before the scan's blur, median over crossings"),
    ("fine_line_width_um", "µm", "line width of the finest third of the standard's lines in the region"),
    ("broad_line_width_um", "µm", "line width of the broadest third of the standard's lines in the region"),
    ("line_core_density", "D", "density of the line before the scan's blur, above bare paper, median"),
    ("line_length_mm_per_mm2", "mm/mm²", "length of printed line per area of plate"),
    ("lines_per_mm", "1/mm", "lines per mm across the main direction of hatching"),
    (
        "line_angle_deg",
        "deg",
        "main direction of the lines, counter-clockwise from the plate's x axis, 0 to 180",
    ),
    ("second_lines_per_mm", "1/mm", "lines per mm of the second direction of cross-hatching"),
    ("second_line_angle_deg", "deg", "second direction of cross-hatching, as the main one"),
    ("line_area_fraction", "-", "share of the area covered by line, against the local ground"),
    ("line_continuity_fraction", "-", "share of the standard's line length that prints on this sheet"),
    (
        "line_load_variation",
        "-",
        "spread of line load from crossing to crossing, against the standard, relative",
    ),
    ("edge_softness_um", "µm", "10-90 % distance of the line edges, median"),
    ("edge_raggedness_um", "µm", "spread of the line edges about their smooth course"),
    ("hollow_index", "-", "how much paler the centre is than the edges, 0 = solid; broad lines only"),
    ("burr_load_um", "µm", "ink in the skirts of drypoint beside the furrow, both sides, median"),
    ("burr_width_um", "µm", "width of that skirt: twice the mean distance of its ink from the furrow's edge"),
    ("burr_asymmetry", "-", "how one-sided the skirt is, 0 = even, 1 = on one side only"),
)
"""Measures of the lines matched to the standard."""

TONE_MEASURES = _numbers(
    ("tone_fraction", "-", "mean of 1 - R/Rp over the region"),
    ("density_p05", "D", "5th percentile of density above bare paper"),
    ("density_p25", "D", "25th percentile"),
    ("density_p50", "D", "median"),
    ("density_p75", "D", "75th percentile"),
    ("density_p95", "D", "95th percentile"),
    ("lightness_mean", "L*", "mean CIE lightness, bare paper = 100"),
    ("lightness_sd", "L*", "standard deviation of CIE lightness"),
    ("tone_distance_density", "D", "Wasserstein-1 distance of the density distribution from the standard's"),
    ("tone_gain", "-", "slope of this region's coarse tone picture against the standard's"),
    ("mottle_density", "D", "part of the coarse tone picture that the standard's does not explain, rms"),
)
"""Measures of the tone distribution of a region."""

PLATE_TONE_MEASURES = _numbers(
    (
        "plate_tone_density",
        "D",
        "film on unworked ground above bare paper, away from lines, bevel and specks",
    ),
    ("plate_tone_unevenness_density", "D", "spread of the film's cells of 2 mm about its plane"),
    (
        "plate_tone_unevenness_fine_density",
        "D",
        "spread of the film between 0.25 and 2.5 mm, paper grain included",
    ),
    ("plate_tone_slope_density_per_100mm", "D/100 mm", "steepness of the plane fitted to the film"),
    ("plate_tone_slope_deg", "deg", "direction in which the film gets darker, counter-clockwise from x"),
    ("streak_density", "D", "directional part of the film"),
    ("streak_deg", "deg", "direction of the streaks, counter-clockwise from x, 0 to 180"),
    ("ground_between_lines_density", "D", "ground inside hatching above bare paper"),
    ("hatch_open_fraction", "-", "share of the standard's white gaps still open"),
    ("halo_density", "D", "ground near lines minus ground away from lines"),
    ("dark_specks_per_cm2", "1/cm²", "dark marks that the standard does not have"),
    ("light_specks_per_cm2", "1/cm²", "light marks that the standard does not have"),
)
"""Measures of the ink film left by wiping and of stray marks."""

MEASURES = LINE_MEASURES + TONE_MEASURES + PLATE_TONE_MEASURES
"""All measures of one region of one sheet."""

UNCERTAINTIES = tuple(
    Column(f"u_{m.name}", "number", m.unit, f"standard uncertainty of {m.name}") for m in MEASURES
)

MEASUREMENTS = (
    _texts(
        ("pull", "impression in order of printing"),
        ("scan", "file in scans/"),
        ("region", "name of the region"),
        ("work", "kind of work: lines, tone, open or drypoint"),
        ("quality", "what limits this row; see the quality flags"),
    )
    + MEASURES
    + UNCERTAINTIES
)
"""One row per scan and region."""

SHEETS = (
    _texts(
        ("pull", "impression in order of printing"),
        ("scan", "file in scans/"),
        ("sha256", "of the scan file"),
        ("curve", "how codes became light, and why if not as asked for"),
    )
    + _numbers(
        ("ppi_x", "px/inch", "resolution along x"),
        ("ppi_y", "px/inch", "resolution along y"),
        ("bits", "bit", "depth of the scan's codes"),
        ("plate_width_mm", "mm", "plate mark on this sheet, left to right"),
        ("plate_height_mm", "mm", "plate mark on this sheet, top to bottom"),
        ("stretch_x", "-", "sheet mm per plate mm along x, 1 = none"),
        ("stretch_y", "-", "sheet mm per plate mm along y, 1 = none"),
        ("shear", "-", "departure from a right angle, x per y"),
        ("rotation_deg", "deg", "turn of the sheet in the scan, counter-clockwise"),
    )
    + (Column("mirrored", "flag", "-", "the sheet is a mirror image of the standard"),)
    + _numbers(
        ("misfit_um", "µm", "rms distance of laid lines from the standard's"),
        ("blur_um", "µm", "standard deviation of the scan's own blur, from the sharpest line edges"),
        (
            "mtf50_per_mm",
            "1/mm",
            "frequency with half of the contrast left: by a slanted edge, else by the blur",
        ),
        ("noise_fraction", "-", "standard deviation of single pixels of the bare margin, relative"),
        ("paper_density", "D", "bare margin below the scanner's white"),
        ("paper_a", "-", "CIE a* of the bare margin"),
        ("paper_b", "-", "CIE b* of the bare margin"),
        ("ink_lightness", "L*", "CIE lightness of the core of solid lines, bare paper = 100"),
        ("ink_a", "-", "CIE a* of the core of solid lines, bare paper = 0"),
        ("ink_b", "-", "CIE b* of the core of solid lines, bare paper = 0"),
        ("film_lightness", "L*", "CIE lightness of filmed ground, bare paper = 100"),
        ("film_a", "-", "CIE a* of filmed ground, bare paper = 0"),
        ("film_b", "-", "CIE b* of filmed ground, bare paper = 0"),
        ("paper_colour_difference", "ΔE00", "CIEDE2000 of the bare margin from the standard's"),
        ("ink_colour_difference", "ΔE00", "CIEDE2000 of solid ink from the standard's"),
        ("film_colour_difference", "ΔE00", "CIEDE2000 of filmed ground from the standard's"),
        ("bevel_density", "D", "ink in the plate-mark band above bare paper"),
        ("doubling_um", "µm", "shift of a second, fainter set of lines; 0 = none seen"),
        ("doubling_deg", "deg", "direction of that shift, counter-clockwise from x"),
        ("doubling_fraction", "-", "strength of the second set against the first"),
        ("crease_mm", "mm", "length of creases found; 0 = none"),
    )
    + _texts(("quality", "what limits this sheet; see the quality flags"))
)
"""One row per scan."""

SPECKS = _texts(
    ("pull", "impression in order of printing"),
    ("scan", "file in scans/"),
    ("region", "name of the region"),
    ("kind", "dark or light"),
) + _numbers(
    ("x_mm", "mm", "middle of the speck, from the left edge of the plate"),
    ("y_mm", "mm", "middle of the speck, from the top edge of the plate"),
    ("size_mm", "mm", "diameter of a round spot of the same area"),
    ("density", "D", "mean density above the ground beside it, negative for light ones"),
)
"""One row per speck on unworked ground that the standard does not have."""

FIGURES = _numbers(
    (
        "film_ramp_x_density",
        "D",
        "change of the film against the standard from the left edge of the plate to the right",
    ),
    ("film_ramp_y_density", "D", "the same from the top to the bottom edge"),
    (
        "film_patch_density",
        "D",
        "what remains of the film's change without its ramp, robust spread over 3 mm",
    ),
    (
        "load_ramp_x_fraction",
        "-",
        "relative change of the line work from the left to the right edge of the plate",
    ),
    ("load_ramp_y_fraction", "-", "the same from the top to the bottom edge"),
    (
        "load_patch_fraction",
        "-",
        "what remains of the line work's change without its ramp, robust spread over 3 mm",
    ),
    ("load_grain_fraction", "-", "change of the line work within 3 mm, robust spread"),
    ("set_off_correlation", "-", "correlation of the film's change with the image, direct or mirrored"),
    ("fine_against_broad", "-", "logarithm of the load of the finest lines over that of the broadest"),
    ("light_against_deep", "-", "logarithm of the change of load in light work over that in deep work"),
    ("gaps_against_film", "D", "ground between lines less the change of the sheet's plate tone"),
    ("patch_against_grain", "-", "logarithm of the line work's patches over 3 mm against its scatter within"),
    ("film_distance", "spreads", "how far the film lies from good pulls in all its measures together"),
    ("line_distance", "spreads", "the same of the line work"),
    ("hatching_distance", "spreads", "the same of the gaps of hatching"),
    ("drypoint_against_rest", "-", "logarithm of the change of drypoint's load over that of other line work"),
)
"""Figures that judgement works out from the tables and the coarse tone pictures; findings and limits name them."""

FINDINGS = (
    _texts(
        ("pull", "impression in order of printing"),
        ("region", "name of the region, or `sheet`"),
        ("measure", "column of measurements or sheets, or a figure of judgement"),
    )
    + _numbers(
        ("value", "as the measure", "on this sheet"),
        ("standard_value", "as the measure", "on the standard"),
        ("spread", "as the measure", "standard deviation expected between good pulls"),
        ("deviation", "spreads", "signed distance from the centre of good pulls"),
        ("q_value", "-", "false discovery rate at which this finding would be called"),
    )
    + _texts(
        ("direction", "`higher` or `lower` than the standard, in the words of the trade where there are any")
    )
)
"""One row per measure of a region that leaves the standard."""

JUDGEMENT = _texts(
    ("pull", "impression in order of printing"),
    ("verdict", "standard, matches, look again or not comparable"),
    ("causes", "ranked, joined by `; `"),
    ("regions", "regions concerned, worst first, joined by `; `"),
    ("reason", "one or two sentences: what was seen, and what speaks for and against the causes"),
)
"""One row per pull."""

PLACES = _texts(
    ("pull", "impression in order of printing"),
    (
        "kind",
        "dark speck, dark streak, smear, light spot, slit, missing stroke or light patch; where it recurs on pulls "
        "that follow each other it is on the plate",
    ),
    ("regions", "regions it lies in, joined by `; `; empty outside all of them"),
) + _numbers(
    ("x_mm", "mm", "middle of the place, plate mm from the left of the plate mark"),
    ("y_mm", "mm", "the same from the top"),
    ("length_mm", "mm", "along its longest direction"),
    ("breadth_mm", "mm", "across it"),
    ("direction_deg", "deg", "of its length, counter-clockwise from x, 0 to 180"),
    (
        "ink_change",
        "-",
        "1 - R/Rp above the edition's at its strongest, averaged over 0.3 mm; negative = lighter",
    ),
    ("spreads", "spreads", "the same in spreads of good pulls at this place"),
    ("recurs_on", "pulls", "how many other pulls have a place of the same sign within 0.5 mm"),
)
"""One row per place of a sheet that leaves the picture of the edition."""

DECISIONS = _texts(
    ("pull", "impression in order of printing"),
    ("decision", "keep, second, set aside or spoiled"),
    ("reason", "in the person's words"),
    ("by", "initials"),
    ("at", "date and time, ISO 8601"),
)
"""Append-only: what a person decided."""

REPEATABILITY = _texts(
    ("region", "name of the region, or `sheet`"),
    ("measure", "column of measurements or sheets"),
) + _numbers(
    ("mean", "as the measure", "mean of all scans of all sheets laid down again"),
    ("sheets", "-", "how many sheets were laid down more than once"),
    ("scans", "-", "how many scans of them count"),
    ("lay_sd", "as the measure", "standard deviation between lays of one day and operator"),
    ("day_sd", "as the measure", "component between days of one operator; empty = cannot be told"),
    ("operator_sd", "as the measure", "component between operators; empty = cannot be told"),
    ("relay_sd", "as the measure", "standard deviation of a single scan, all components together"),
    ("freedom", "-", "effective degrees of freedom of relay_sd"),
    ("relay_sd_upper", "as the measure", "what relay_sd is below with 95 % confidence"),
    (
        "minimal_detectable_change",
        "as the measure",
        "difference of two single scans that 19 of 20 repeats of one sheet stay below",
    ),
)
"""One row per region and measure: how far the same sheet reads alike when it is laid down again."""

EFFECTS = (
    _texts(
        ("response", "measure that is asked for"),
        ("region", "name of the region; `all` where regions are fitted together"),
        ("term", "factor, level, or both of a joint effect"),
        ("step", "what the effect is of: per unit, per doubling, against a level"),
    )
    + _numbers(
        ("estimate", "as the response", "effect of one step; a share of 1 for relative responses"),
        (
            "u_estimate",
            "as the response",
            "standard uncertainty of the effect; empty = nothing to tell it from",
        ),
        ("low", "as the response", "lower end of its 95 % interval"),
        ("high", "as the response", "upper end of its 95 % interval"),
        ("freedom", "-", "degrees of freedom at the level at which the factor varies"),
        ("over_range", "as the response", "effect over all that was tried"),
        (
            "effect_sd",
            "sd",
            "size over all that was tried, in standard deviations of what factors do not explain",
        ),
        ("p_value", "-", "chance of an effect at least this large where there is none"),
        ("q_value", "-", "false discovery rate over the whole study at which it would be called"),
        ("detectable", "as the response", "effect of one step that 80 of 100 such experiments would find"),
        ("rows", "-", "rows that were fitted"),
        ("units", "-", "pulls, plates or places that were set on their own"),
    )
    + _texts(("model", "linear or mixed"), ("remark", "what limits this effect"))
)
"""One row per effect of a study."""

SUMMARY = _texts(
    ("response", "measure that is asked for"),
    ("region", "name of the region; `all` where settings go with regions"),
    ("setting", "settings of the factors"),
) + _numbers(
    ("mean", "as the response", "mean of the units"),
    ("spread", "as the response", "standard deviation between units; empty for one unit"),
    ("n", "-", "units: pulls, plates or places that were set on their own"),
    (
        "reading_sd",
        "as the response",
        "standard deviation between the readings of one unit, such as its pulls",
    ),
    (
        "u_mean",
        "as the response",
        "standard uncertainty of the mean: spread over the root of n; of a single unit that of its readings",
    ),
    ("rows", "-", "readings behind them"),
)
"""One row per setting."""

RESIDUALS = (
    _texts(
        ("response", "measure that is asked for"),
        ("region", "as in the effects"),
        ("check", "normal shape, equal spread, order, farthest row"),
    )
    + _numbers(
        ("value", "-", "size of the departure; see meaning"),
        ("p_value", "-", "chance of a departure at least this large where there is none"),
    )
    + _texts(("meaning", "what the value is, and what follows"))
)
"""Checks of what a model leaves over."""

COURSES = _texts(
    ("response", "measure that is asked for"),
    ("region", "as in the effects"),
    ("bath", "name of the bath; empty for one"),
) + _numbers(
    ("time", "as told", "time in the bath"),
    ("mean", "as the response", "mean of the places bitten so long"),
    ("n", "-", "places"),
    ("fitted", "as the response", "course that never falls"),
    ("low", "as the response", "lower end of its 95 % interval"),
    ("high", "as the response", "upper end of its 95 % interval"),
    ("exponent", "-", "power of time that the response follows; empty where it follows none"),
    ("u_exponent", "-", "its standard uncertainty"),
)
"""One row per bath and time of a step-bite strip."""

BATHS = (
    _texts(
        ("response", "measure that is asked for"),
        ("region", "as in the effects"),
        ("bath", "bath that is compared"),
        ("reference", "bath that it is compared with"),
    )
    + _numbers(
        ("speed", "-", "how many times as fast it gets to the same response"),
        ("low", "-", "lower end of the 95 % interval (Fieller)"),
        ("high", "-", "upper end"),
        ("freedom", "-", "degrees of freedom"),
    )
    + _texts(("remark", "what limits the comparison"))
)
"""One row per response for which two baths are compared."""

TILTS = _texts(("plate", "plate, empty for one"), ("region", "area of even texture")) + _numbers(
    ("across_density", "D", "change along the steepest line from end to end that all pulls share"),
    ("u_across_density", "D", "its standard uncertainty, from the scatter of pulls"),
    ("direction_deg", "deg", "direction in which it gets darker, counter-clockwise from x"),
    ("pulls", "-", "pulls"),
    ("p_value", "-", "chance of a common slope at least this large where pulls share none (Hotelling)"),
    ("detectable", "D", "change that 80 of 100 such studies would find"),
)
"""One row per textured area in which a tipped bath would show."""

PULL_LOG = (
    _texts(
        ("pull", "impression in order of printing, never reused"),
        ("kind", "edition, artist's proof, trial proof, ..., in full"),
        ("designation", "what is pencilled on it"),
        ("status", "keep, second, set aside or spoiled; empty = not decided here"),
        ("destroyed_on", "date, of a second or spoiled sheet"),
        ("pulled_on", "date"),
        ("started", "time of day, 24 hours"),
        ("ended", "time of day, 24 hours"),
        ("printer", "initials or code only"),
        ("recipe", "name of the recipe of ink, wiping and pressure"),
        ("ink", "pigments, oil, ratio, additive, in words"),
        ("ink_batch", "which mix"),
    )
    + _numbers(("minutes_since_mixing", "min", "age of the ink"))
    + _texts(("paper", "kind, in words"), ("paper_lot", "lot and sheet"))
    + _numbers(
        ("soak_min", "min", "time in water"),
        ("rest_min", "min", "time between blotters"),
        ("sheet_dry_g", "g", "mass of the sheet before damping"),
        ("sheet_damp_g", "g", "mass of the sheet as it went to press"),
        ("plate_temperature_c", "°C", "of the plate at inking"),
        ("room_c", "°C", "of the room"),
        ("room_rh_percent", "%", "relative humidity of the room"),
    )
    + _texts(
        ("wiping", "stages and numbers of passes, in words"),
        ("cloth_changed", "yes or no, since the last pull"),
        ("plate_cleaned", "yes or no, since the last pull"),
        ("cleaner", "what it was cleaned with, as its data sheet names it"),
    )
    + _texts(
        ("pressure", "mark left and right, passes"),
        ("blankets", "number, kind, order; changed or washed"),
        ("incident", "what went wrong"),
        ("word", "the printer's first word on it"),
        ("drying", "how it was dried"),
        ("flattened_on", "date"),
        ("verso", "note on the back"),
        ("place", "where it is kept"),
        ("note", "anything else; no names of buyers"),
    )
)
"""One row per pull, whether it was scanned or not: what the printer writes down."""

RECONCILIATION = (
    _texts(
        (
            "account",
            "edition, proof, working proof, second, set aside, spoiled, not counted, not decided or lost",
        ),
        ("kind", "kind of impression; empty where it is not told"),
    )
    + _numbers(("count", "-", "how many"))
    + _texts(("pulls", "which ones, joined by `; `"))
)
"""Every pull in exactly one row; the counts add up to all that was pulled."""

NUMBERING = _texts(
    ("pull", "impression in order of printing"),
    ("kind", "kind of impression"),
    ("designation", "what is pencilled on it, or proposed"),
    ("state", "written = on the sheet already; proposed = for the artist to fix"),
)
"""One row per kept impression of a numbered kind."""
COMPARED = (
    _texts(
        ("state", "A, the earlier one, or B"),
        ("pull", "impression, or the name of the scan"),
        ("scan", "file that was read"),
        ("relation", "base, same plate, not the same plate or not comparable"),
        ("sha256", "of the scan file"),
        ("curve", "how codes became light, and why if not as asked for"),
    )
    + _numbers(
        ("ppi_x", "px/inch", "resolution along x"),
        ("ppi_y", "px/inch", "resolution along y"),
        ("stretch_x", "-", "sheet mm per plate mm along x, 1 = none"),
        ("stretch_y", "-", "sheet mm per plate mm along y, 1 = none"),
        ("rotation_deg", "deg", "turn of the sheet in the scan, counter-clockwise"),
    )
    + (Column("mirrored", "flag", "-", "the sheet is a mirror image of the base"),)
    + _numbers(
        ("misfit_um", "µm", "rms distance of laid lines from the base's"),
        (
            "agreeing_fraction",
            "-",
            "share of the passages of line work whose lines lie where the base has them",
        ),
    )
    + _texts(("reason", "why it is not compared, or how it was laid"))
)
"""One row per pull of two states that are compared."""

CHANGES = (
    _texts(
        ("number", "as drawn in the picture"),
        ("kind", "added, removed, deepened, lightened, scratch or doubtful"),
    )
    + _numbers(
        ("x_mm", "mm", "middle of the stroke on the plate of the first pull, from its left edge"),
        ("y_mm", "mm", "the same from its top edge"),
        ("length_mm", "mm", "length of the stroke, or of the stretch that changed"),
        ("width_um", "µm", "width of the line"),
        ("load_before_um", "µm", "line load on state A, median of its pulls"),
        ("load_after_um", "µm", "line load on state B, brought to the ink of state A"),
    )
    + _texts(
        ("doubt", "why a doubtful one is doubtful"),
        ("wkt", "course in plate mm, LINESTRING of OGC well-known text"),
    )
)
"""One row per stroke that differs between two states."""

CHANGED_AREAS = (
    _texts(("number", "as drawn in the picture"), ("kind", "kind of change, as in changes"))
    + _numbers(
        ("x_mm", "mm", "middle of the area, from the left edge of the plate"),
        ("y_mm", "mm", "the same from the top edge"),
        ("area_mm2", "mm²", "area on which the strokes lie"),
        ("strokes", "-", "number of strokes"),
        ("length_mm", "mm", "length of all of them"),
    )
    + _texts(
        ("wkt", "outline in plate mm, POLYGON of OGC well-known text"),
    )
)
"""One row per area on which several strokes changed alike."""

DRAWING = _texts(
    ("drawing", "scan of the drawing"),
    ("print", "scan of the print"),
    ("reading", "mirrored or direct: how the drawing has to be read to fit the print"),
) + _numbers(
    ("covered_fraction", "-", "share of the drawing's line length that printed lines follow"),
    (
        "mirrored_above_chance",
        "-",
        "share that lies on printed lines, less what does by chance, read mirrored",
    ),
    ("direct_above_chance", "-", "the same, read direct"),
    ("scale_x", "-", "print mm per drawing mm along x"),
    ("scale_y", "-", "print mm per drawing mm along y"),
    ("shear", "-", "departure from a right angle, x per y"),
    ("rotation_deg", "deg", "turn of the drawing against the print, counter-clockwise"),
    ("stretch_mm", "mm", "smooth stretch of the papers along the contours, rms"),
    ("departures", "-", "number of deliberate departures found"),
)
"""One row for a print and its drawing."""

CONTOURS = (
    _texts(
        ("number", "line of the drawing"),
    )
    + _numbers(
        ("x_mm", "mm", "its middle on the print's plate, from the left edge"),
        ("y_mm", "mm", "the same from the top edge"),
        ("length_mm", "mm", "length on the print"),
        ("covered_fraction", "-", "share of it that a printed line follows"),
        ("stretch_mm", "mm", "smooth stretch of the papers along it, rms"),
        ("departure_mm", "mm", "distance of the printed line from it, that taken off; 90th percentile"),
    )
    + _texts(
        ("wkt", "course in plate mm of the print, LINESTRING of OGC well-known text"),
    )
)
"""One row per line of the drawing."""

DEPARTURES = (
    _texts(("number", "as drawn in the picture"), ("contour", "line of the drawing"))
    + _numbers(
        ("x_mm", "mm", "middle of the stretch on the print's plate, from the left edge"),
        ("y_mm", "mm", "the same from the top edge"),
        ("length_mm", "mm", "length of the stretch"),
        ("departure_mm", "mm", "how far the printed line lies from the drawn one, smooth stretch taken off"),
    )
    + _texts(
        ("wkt_drawn", "where the drawing has it, plate mm of the print"),
        ("wkt_printed", "where the print has it"),
    )
)
"""One row per stretch of contour that the print has elsewhere."""

CHOICE_CANDIDATES = _texts(
    ("pull", "trial proof"),
    ("recipe", "how it was made, as pulls.csv says"),
    ("confirming", "other pulls of the same recipe, joined by `; `"),
    ("first_in", "wishes that it grants further than others, `region: wish` joined by `; `"),
    ("surpassed_by", "candidates that grant every wish at least as far and one of them further"),
    ("farthest_in", "region and measure in which it is farthest from the centre of its recipe"),
    ("weakest_in", "region and measure in which the fewest further pulls are expected inside tolerance"),
) + _numbers(
    (
        "overall_granted",
        "-",
        "weighted geometric mean of what is granted; 0 where a wish is not granted at all",
    ),
    ("leads_fraction", "-", "share of all ways to weigh the wishes in which that mean is the largest"),
    (
        "distance_spreads",
        "spreads",
        "distance from the centre of its recipe's confirming pulls, rms over the wishes",
    ),
    ("inside_fraction", "-", "share of further pulls expected inside all tolerances about it, at the least"),
    ("weakest_fraction", "-", "the same in the weakest measure alone: at the most"),
)
"""One row per trial proof that a standard is chosen from."""

CHOICE_WISHES = _texts(
    ("pull", "trial proof"),
    ("region", "name of the region"),
    ("wish", "what the artist wants of it"),
    ("measure", "column of measurements that tells it"),
) + _numbers(
    ("weight", "-", "how much the wish counts against the others"),
    ("value", "as the measure", "on this proof"),
    ("u_value", "as the measure", "standard uncertainty"),
    ("granted", "-", "how far the wish is granted: 0 not at all, 1 wholly"),
    ("granted_low", "-", "the same at the less favourable end of two standard uncertainties"),
    ("granted_high", "-", "the same at the more favourable end"),
)
"""One row per trial proof and wish."""

CHOICE_DIFFERENCES = _texts(
    ("pull", "one trial proof"),
    ("other", "another"),
    ("region", "name of the region"),
    ("measure", "column of measurements"),
    ("direction", "how the other is against the one, in the words of the trade where there are any"),
) + _numbers(
    ("value", "as the measure", "on the one"),
    ("other_value", "as the measure", "on the other"),
    (
        "deviation",
        "spreads",
        "other less one, in standard deviations of the difference of two pulls of one recipe",
    ),
    ("q_value", "-", "false discovery rate at which this difference would be called"),
)
"""One row per pair of trial proofs, region and measure in which they differ."""

TABLES: dict[str, tuple[Column, ...]] = {
    "measurements": MEASUREMENTS,
    "sheets": SHEETS,
    "specks": SPECKS,
    "findings": FINDINGS,
    "judgement": JUDGEMENT,
    "places": PLACES,
    "decisions": DECISIONS,
    "choice_candidates": CHOICE_CANDIDATES,
    "choice_wishes": CHOICE_WISHES,
    "choice_differences": CHOICE_DIFFERENCES,
    "repeatability": REPEATABILITY,
    "effects": EFFECTS,
    "summary": SUMMARY,
    "residuals": RESIDUALS,
    "courses": COURSES,
    "baths": BATHS,
    "tilts": TILTS,
    "pull_log": PULL_LOG,
    "reconciliation": RECONCILIATION,
    "numbering": NUMBERING,
    "compared": COMPARED,
    "changes": CHANGES,
    "changed_areas": CHANGED_AREAS,
    "drawing": DRAWING,
    "contours": CONTOURS,
    "departures": DEPARTURES,
}

VERDICTS = ("standard", "matches", "look again", "not comparable")

CAUSES = (
    "under-inked",
    "overwiped",
    "underwiped",
    "wipe streaks",
    "uneven wiping",
    "retroussage",
    "clogged hatching",
    "low pressure",
    "uneven pressure",
    "dry paper",
    "doubled",
    "crease",
    "specks",
    "bevel ink",
    "plate wear",
    "burr loss",
    "set-off",
    "ink batch",
    "scan",
)
"""Cause words; other programs read them."""

_EMPTY: dict[Kind, object] = {"text": "", "number": np.nan, "flag": False}
_DTYPES: dict[Kind, str] = {"text": "str", "number": "float64", "flag": "bool"}


def names(columns: tuple[Column, ...]) -> list[str]:
    """Return the names of `columns` in order."""
    return [column.name for column in columns]


def make_table(rows: list[dict[str, object]], columns: tuple[Column, ...]) -> pd.DataFrame:
    """Return a table with exactly `columns`, in order and with their dtypes; what a row lacks is empty.

    Raises
    ------
    KeyError
        If a row has a key that is no column.
    """
    known = set(names(columns))
    for row in rows:
        if stray := set(row) - known:
            raise KeyError(f"not in the column registry: {', '.join(sorted(stray))}")
    data = {
        column.name: pd.Series(
            [row.get(column.name, _EMPTY[column.kind]) for row in rows], dtype=_DTYPES[column.kind]
        )
        for column in columns
    }
    return pd.DataFrame(data, columns=names(columns))
