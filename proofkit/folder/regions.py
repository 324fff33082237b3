"""Read, check and write regions.csv: the parts of the plate that are measured each by itself."""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import cast

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from proofkit.errors import RegionError
from proofkit.folder.edition import WORKS, Region, Work
from proofkit.folder.problems import place, quoted
from proofkit.folder.pulls import LONGEST_NAME
from proofkit.folder.rows import Row, read_rows
from proofkit.folder.writing import write_text
from proofkit.wording import percent

REGIONS_FILE = "regions.csv"
REQUIRED = ("name", "work", "wkt")
PROPOSED = "proposed "
"""Begin of the name of a region that proofkit proposed; renaming it takes it over."""

RESERVED = ("sheet", "*")
"""Names with another meaning in the tables."""

EDGE_SLACK_MM = 0.05
"""A region may reach this far over the plate mark without a word: a fiftieth of what a hand draws. [mm]"""

FARTHEST_MM = 10_000.0
"""Coordinates beyond this are no place on a plate, in whatever unit they were meant. [mm]"""

OVERLAP_FRACTION = 0.5
"""Regions that share more than this part of the smaller one are remarked. [-]"""


def read_regions(folder: Path, problems: list[str], remarks: list[str]) -> tuple[Region, ...]:
    """Return the regions of an edition folder; none where there is no regions.csv or no row in it."""
    path = folder / REGIONS_FILE
    if not path.is_file():
        return ()
    rows = read_rows(path, REQUIRED, problems)
    regions = [region for row in rows if (region := _region(row, problems)) is not None]
    seen: dict[str, int] = {}
    for row in rows:
        name = row.cells.get("name", "")
        first = seen.setdefault(name.casefold(), row.line)
        if name and first != row.line:
            problems.append(
                f"{place(REGIONS_FILE, row.line)}: region {quoted(name)} stands in line {first} already. Rename one."
            )
    remarks.extend(_overlaps(regions))
    return tuple(regions)


def _region(row: Row, problems: list[str]) -> Region | None:
    where = place(REGIONS_FILE, row.line)
    name, work = row.cells.get("name", ""), row.cells.get("work", "").lower()
    faults = [fault for fault in (name_fault(name), _work_fault(work)) if fault]
    outline = _outline(row.cells.get("wkt", ""), faults)
    problems.extend(f"{where}: {fault}" for fault in faults)
    if faults or outline is None:
        return None
    return Region(name, cast("Work", work), outline, proposed=name.startswith(PROPOSED))


def name_fault(name: str) -> str | None:
    """Return what is wrong with the name of a region, None when nothing is.

    >>> name_fault("sky, left") is None
    True
    """
    if not name:
        return "the cell name is empty. Give the region a name."
    if name.casefold() in RESERVED or not name[0].isalnum() or ";" in name:
        return (
            f"region {quoted(name)} has a name that the tables use otherwise; allowed are names that begin with a "
            "letter or digit, hold no semicolon and are not 'sheet'. Rename it."
        )
    if len(name) > LONGEST_NAME or not name.isprintable():
        return (
            f"region {quoted(name)} has a name that is too long or of several lines; allowed are {LONGEST_NAME} "
            "characters. Rename it."
        )
    return None


def _work_fault(work: str) -> str | None:
    if work in WORKS:
        return None
    return f"work is {quoted(work)}, allowed is one of {', '.join(WORKS)}."


def _outline(text: str, faults: list[str]) -> Polygon | None:
    try:
        with np.errstate(all="ignore"):  # a number too large becomes infinite, and is told below
            shape = shapely.from_wkt(text)
    except shapely.errors.ShapelyError:
        shape = None
    if shape is None:
        faults.append(
            f"wkt {quoted(text)} is no outline; allowed is POLYGON ((x y, x y, ...)) in plate mm, its last "
            "point the first."
        )
        return None
    if not isinstance(shape, Polygon):
        faults.append(
            f"wkt is a {shape.geom_type.upper()}, allowed is one POLYGON. Make a region of each part."
        )
        return None
    shape = shapely.force_2d(shape)
    if not (np.abs(shapely.get_coordinates(shape)) <= FARTHEST_MM).all():
        faults.append(
            f"wkt {quoted(text)} has a coordinate that is no number up to {FARTHEST_MM:.0f} mm. Give plate mm."
        )
    elif not shape.is_valid:
        faults.append(
            f"the outline crosses itself or its holes ({shapely.is_valid_reason(shape)}). Draw it again."
        )
    elif shape.area <= 0:
        faults.append("the outline has an area of 0 mm². Draw it again.")
    else:
        return shape
    return None


def _overlaps(regions: Sequence[Region]) -> list[str]:
    remarks = []
    for i, first in enumerate(regions):
        for second in regions[i + 1 :]:
            smaller = min(first.outline_mm.area, second.outline_mm.area)
            share = first.outline_mm.intersection(second.outline_mm).area / smaller
            if share > OVERLAP_FRACTION:
                remarks.append(
                    f"Regions {quoted(first.name)} and {quoted(second.name)} share {percent(share)} of the smaller "
                    "one: what differs there is counted twice."
                )
    return remarks


def check_inside(
    regions: Iterable[Region], width_mm: float, height_mm: float
) -> tuple[list[Region], list[str]]:
    """Return the regions clipped to the plate, and a line for each that reached over it.

    Parameters
    ----------
    regions : iterable of Region
    width_mm, height_mm : float
        Size of the plate. [mm]

    Returns
    -------
    kept : list of Region
        Those of which a part lies on the plate, clipped to it; a region that the clipping cuts in two is left out.
    messages : list of str
        What was clipped or left out.
    """
    plate = box(0.0, 0.0, width_mm, height_mm)
    slack = plate.buffer(EDGE_SLACK_MM, join_style="mitre")
    kept, messages = [], []
    for region in regions:
        if plate.covers(region.outline_mm):
            kept.append(region)
            continue
        x0, y0, x1, y1 = region.outline_mm.bounds
        reach = (
            f"Region {quoted(region.name)} reaches from x = {x0:.1f} to {x1:.1f} mm and y = {y0:.1f} to {y1:.1f} mm, "
            f"but the plate is {width_mm:.1f} mm wide and {height_mm:.1f} mm high"
        )
        inside = region.outline_mm.intersection(plate)
        if not isinstance(inside, Polygon) or inside.area <= 0:
            what = "nothing of it" if inside.area <= 0 else "more than one piece"
            messages.append(f"{reach}: {what} lies on the plate, so it was left out. Redraw it in plate mm.")
            continue
        if not slack.covers(region.outline_mm):
            messages.append(f"{reach}: it was cut at the plate mark. Redraw it if that is not meant.")
        kept.append(replace(region, outline_mm=inside))
    return kept, messages


def as_written(region: Region) -> Region:
    """Return a region with the name that it has in regions.csv: a proposed one is named as such."""
    if not region.proposed or region.name.startswith(PROPOSED):
        return region
    return replace(region, name=PROPOSED + region.name)


def write_regions(folder: Path, regions: Iterable[Region]) -> Path:
    """Write regions.csv, replacing it in one step; coordinates are written so that they read back exactly.

    Raises
    ------
    RegionError
        If a region has a name that the tables cannot hold.
    FolderError
        If the file cannot be written.
    """
    named = [as_written(region) for region in regions]
    faults = [fault for region in named if (fault := name_fault(region.name))]
    if faults:
        raise RegionError("\n".join(faults))
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(REQUIRED)
    table.writerows((region.name, region.work, polygon_wkt(region.outline_mm)) for region in named)
    return write_text(folder / REGIONS_FILE, text.getvalue())


def polygon_wkt(outline_mm: Polygon) -> str:
    """Return a polygon as well-known text with the shortest digits that read back as the same numbers.

    >>> polygon_wkt(box(0.1, 0, 12.5, 3))
    'POLYGON ((12.5 0, 12.5 3, 0.1 3, 0.1 0, 12.5 0))'
    """
    rings = [outline_mm.exterior, *outline_mm.interiors]
    return "POLYGON (" + ", ".join(f"({_ring(np.asarray(ring.coords))})" for ring in rings) + ")"


def _ring(points_mm: np.ndarray) -> str:
    return ", ".join(
        " ".join(repr(float(value)).removesuffix(".0") for value in point[:2]) for point in points_mm
    )
