"""What was asked for and could not be had is said once, with the pulls that lack it and why."""

from proofkit.check.limits_met import on_calibration, on_regions
from proofkit.columns import MEASUREMENTS, SHEETS, make_table

WHY = (
    "sRGB (assumed), as the wedge failed: No step wedge of 11 steps was found in scan 'b.tif'. Give corners."
)


def sheets(*rows):
    return make_table([dict(zip(("pull", "quality", "curve"), row, strict=True)) for row in rows], SHEETS)


def test_a_wedge_that_some_scans_lack_is_told_with_the_reason_of_the_first():
    table = sheets(
        ("1", "", "step wedge"), ("2", "curve assumed; no wedge", WHY), ("3", "no wedge", "sRGB, ...")
    )
    assert on_calibration(table) == [
        "The step wedge cannot be used on pulls 2 and 3; densities there hang on the curve that stands in. Pull 2: "
        + WHY
    ]


def test_a_flat_field_and_an_edge_are_told_apart_from_the_wedge():
    why = "linear, not evened: There is no 'blank.tif' in the edition."
    flat, edge = on_calibration(sheets(("7", "no flat field; no edge", why)))[0:2]
    assert flat.startswith("The flat field is not used on pull 7;")
    assert flat.endswith(why)
    assert edge == (
        "The box of the slanted edge holds none on pull 7; their blur is told from the lines. "
        "Mend edge under [capture] in edition.toml."
    )


def test_scans_that_lack_nothing_are_passed_over():
    assert on_calibration(sheets(("1", "lossy file", "sRGB"), ("2", "", "sRGB"))) == []
    assert on_calibration(sheets()) == []


def test_a_region_without_lines_is_named_once_by_what_the_standard_shows():
    rows = [
        {"pull": pull, "region": region, "work": "lines", "quality": quality}
        for pull, region, quality in (
            ("1", "sky", "no lines"), ("1", "roof", "too fine"), ("2", "sky", "no lines"), ("2", "roof", "no lines"),
        )
    ]  # fmt: skip
    (said,) = on_regions(make_table(rows, MEASUREMENTS), "1")
    assert said.startswith("Region 'sky' is said to hold lines, but the standard shows none there")
    assert on_regions(make_table([], MEASUREMENTS), "1") == []
