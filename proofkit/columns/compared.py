"""Tables of two compared states, and of a print against its drawing."""

from proofkit.columns.column import Column, numbers, texts

COMPARED = (
    texts(
        ("state", "A, the earlier one, or B"),
        ("pull", "impression, or the name of the scan"),
        ("scan", "file that was read"),
        ("relation", "base, same plate, not the same plate or not comparable"),
        ("sha256", "of the scan file"),
        ("curve", "how codes became light, and why if not as asked for"),
    )
    + numbers(
        ("ppi_x", "px/inch", "resolution along x"),
        ("ppi_y", "px/inch", "resolution along y"),
        ("stretch_x", "-", "sheet mm per plate mm along x, 1 = none"),
        ("stretch_y", "-", "sheet mm per plate mm along y, 1 = none"),
        ("rotation_deg", "deg", "turn of the sheet in the scan, counter-clockwise"),
    )
    + (Column("mirrored", "flag", "-", "the sheet is a mirror image of the base"),)
    + numbers(
        ("misfit_um", "µm", "rms distance of laid lines from the base's"),
        (
            "agreeing_fraction",
            "-",
            "share of the passages of line work whose lines lie where the base has them",
        ),
    )
    + texts(("reason", "why it is not compared, or how it was laid"))
)
"""One row per pull of two states that are compared."""

CHANGES = (
    texts(
        ("number", "as drawn in the picture"),
        ("kind", "added, removed, deepened, lightened, scratch or doubtful"),
    )
    + numbers(
        ("x_mm", "mm", "middle of the stroke on the plate of the first pull, from its left edge"),
        ("y_mm", "mm", "the same from its top edge"),
        ("length_mm", "mm", "length of the stroke, or of the stretch that changed"),
        ("width_um", "µm", "width of the line"),
        ("load_before_um", "µm", "line load on state A, median of its pulls"),
        ("load_after_um", "µm", "line load on state B, brought to the ink of state A"),
    )
    + texts(
        ("doubt", "why a doubtful one is doubtful"),
        ("wkt", "course in plate mm, LINESTRING of OGC well-known text"),
    )
)
"""One row per stroke that differs between two states."""

CHANGED_AREAS = (
    texts(
        ("number", "as drawn in the picture"),
        ("kind", "kind of change, as in changes"),
        ("work", "lines: several strokes changed alike; tone: the ground between strokes changed"),
    )
    + numbers(
        ("x_mm", "mm", "middle of the area, from the left edge of the plate"),
        ("y_mm", "mm", "the same from the top edge"),
        ("area_mm2", "mm²", "area on which the strokes lie, or whose tone changed"),
        ("strokes", "-", "number of strokes; 0 where the tone changed"),
        ("length_mm", "mm", "length of all of them"),
        ("tone_before_density", "D", "tone on state A above the plate's clear ground; empty for lines"),
        ("tone_after_density", "D", "tone on state B, brought to the film and ink of state A"),
    )
    + texts(
        ("doubt", "why a doubtful one is doubtful"),
        ("wkt", "outline in plate mm, POLYGON of OGC well-known text"),
    )
)
"""One row per area on which several strokes changed alike, or whose tone changed."""

DRAWING = texts(
    ("drawing", "scan of the drawing"),
    ("print", "scan of the print"),
    ("reading", "mirrored or direct: how the drawing has to be read to fit the print"),
) + numbers(
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
    texts(
        ("number", "line of the drawing"),
    )
    + numbers(
        ("x_mm", "mm", "its middle on the print's plate, from the left edge"),
        ("y_mm", "mm", "the same from the top edge"),
        ("length_mm", "mm", "length on the print"),
        ("covered_fraction", "-", "share of it that a printed line follows"),
        ("stretch_mm", "mm", "smooth stretch of the papers along it, rms"),
        ("departure_mm", "mm", "distance of the printed line from it, that taken off; 90th percentile"),
    )
    + texts(
        ("wkt", "course in plate mm of the print, LINESTRING of OGC well-known text"),
    )
)
"""One row per line of the drawing."""

DEPARTURES = (
    texts(("number", "as drawn in the picture"), ("contour", "line of the drawing"))
    + numbers(
        ("x_mm", "mm", "middle of the stretch on the print's plate, from the left edge"),
        ("y_mm", "mm", "the same from the top edge"),
        ("length_mm", "mm", "length of the stretch"),
        ("departure_mm", "mm", "how far the printed line lies from the drawn one, smooth stretch taken off"),
    )
    + texts(
        ("wkt_drawn", "where the drawing has it, plate mm of the print"),
        ("wkt_printed", "where the print has it"),
    )
)
"""One row per stretch of contour that the print has elsewhere."""
