"""Measures of one region of one sheet, and their uncertainties."""

from proofkit.columns.column import Column, numbers

LINE_MEASURES = numbers(
    ("line_load_um", "µm", "integral of 1 - R/Rg across the line; of crossings the mean of the middle half"),
    ("fine_line_load_um", "µm", "line load of the finest third of the standard's lines in the region"),
    ("broad_line_load_um", "µm", "line load of the broadest third of the standard's lines in the region"),
    ("line_width_um", "µm", "width of the line before the scan's blur; mean of the middle half of crossings"),
    ("fine_line_width_um", "µm", "line width of the finest third of the standard's lines in the region"),
    ("broad_line_width_um", "µm", "line width of the broadest third of the standard's lines in the region"),
    (
        "line_core_density",
        "D",
        "density of the line before the scan's blur, above bare paper; of the middle half",
    ),
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
    ("edge_softness_um", "µm", "10-90 % distance of the line edges; mean of the middle half"),
    ("edge_raggedness_um", "µm", "spread of the line edges about their smooth course"),
    ("hollow_index", "-", "how much paler the centre is than the edges, 0 = solid; broad lines only"),
    ("burr_load_um", "µm", "ink in the skirts of drypoint beside the furrow, both sides, median"),
    ("burr_width_um", "µm", "width of that skirt: twice the mean distance of its ink from the furrow's edge"),
    ("burr_asymmetry", "-", "how one-sided the skirt is, 0 = even, 1 = on one side only"),
)
"""Measures of the lines matched to the standard."""

TONE_MEASURES = numbers(
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

PLATE_TONE_MEASURES = numbers(
    (
        "plate_tone_density",
        "D",
        "film on unworked ground above bare paper, away from lines, bevel and specks; of the region's mean light",
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
