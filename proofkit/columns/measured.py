"""Tables of what was measured: regions, sheets, specks, and how far readings repeat."""

from proofkit.columns.column import Column, numbers, texts
from proofkit.columns.measures import MEASURES, UNCERTAINTIES

MEASUREMENTS = (
    texts(
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
    texts(
        ("pull", "impression in order of printing"),
        ("scan", "file in scans/"),
        ("sha256", "of the scan file"),
        ("curve", "how codes became light, and why if not as asked for"),
    )
    + numbers(
        ("ppi_x", "px/inch", "resolution along x"),
        ("ppi_y", "px/inch", "resolution along y"),
        ("bits", "bit", "depth of the scan's codes"),
        ("plate_width_mm", "mm", "plate mark on this sheet, left to right"),
        ("plate_height_mm", "mm", "plate mark on this sheet, top to bottom"),
        ("stretch_x", "-", "sheet mm per plate mm along x, the best affine map over the plate; 1 = none"),
        ("stretch_y", "-", "sheet mm per plate mm along y, the best affine map over the plate; 1 = none"),
        ("shear", "-", "departure from a right angle, x per y"),
        ("rotation_deg", "deg", "turn of the sheet in the scan, counter-clockwise"),
    )
    + (Column("mirrored", "flag", "-", "the sheet is a mirror image of the standard"),)
    + numbers(
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
        (
            "set_off_density",
            "D",
            "mirrored ghost of the print on open ground, where the print that left it is black; 0 = none seen",
        ),
        ("u_set_off_density", "D", "its standard uncertainty; a ghost of seven times as much is seen"),
        (
            "set_off_x_mm",
            "mm",
            "shift of the mirrored print to the right, 0 = sheets lay exactly face to face",
        ),
        ("set_off_y_mm", "mm", "the same down"),
        ("crease_mm", "mm", "length of creases found; 0 = none"),
    )
    + texts(("quality", "what limits this sheet; see the quality flags"))
)
"""One row per scan."""

SPECKS = texts(
    ("pull", "impression in order of printing"),
    ("scan", "file in scans/"),
    ("region", "name of the region"),
    ("kind", "dark or light"),
) + numbers(
    ("x_mm", "mm", "middle of the speck, from the left edge of the plate"),
    ("y_mm", "mm", "middle of the speck, from the top edge of the plate"),
    ("size_mm", "mm", "diameter of a round spot of the same area"),
    ("density", "D", "mean density above the ground beside it, negative for light ones"),
)
"""One row per speck on unworked ground that the standard does not have."""

REPEATABILITY = texts(
    ("region", "name of the region, or `sheet`"),
    ("measure", "column of measurements or sheets"),
) + numbers(
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
