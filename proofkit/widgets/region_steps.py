"""Steps that draw, move, rename and take back regions; what cannot be is refused in words and nothing changes."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from shapely.affinity import translate
from shapely.geometry import Polygon, box

from proofkit.errors import RegionError
from proofkit.folder.edition import WORKS, Region, Work
from proofkit.folder.guarded import check_unchanged, file_mark
from proofkit.folder.problems import quoted
from proofkit.folder.regions import EDGE_SLACK_MM, PROPOSED, REGIONS_FILE, name_fault, write_regions
from proofkit.widgets.state import BenchState, reread

SHARED_FRACTION = 0.01
"""Neighbours may share this part of the smaller one: drawn by hand, their common border is never one line. [-]"""

LEAST_AREA_MM2 = 0.25
"""Smallest region: half a millimetre squared holds hardly a line. [mm²]"""

MOST_KEPT = 100
"""Steps that can be taken back."""

PlateSize = tuple[float, float]


def add_region(
    state: BenchState, points_mm: Sequence[Sequence[float]], work: Work, plate_mm: PlateSize
) -> BenchState:
    """Return the bench with a region more, which is then the chosen one.

    Parameters
    ----------
    state : BenchState
    points_mm : sequence of (x, y)
        Corners of its outline. [plate mm]
    work : Work
    plate_mm : tuple of float
        Width and height of the plate. [mm]

    Raises
    ------
    RegionError
        If it cannot be a region there.
    ProofkitError
        If regions.csv cannot be written or was changed by others.
    """
    number = 1
    while f"region {number}" in {region.name for region in state.regions}:
        number += 1
    region = Region(f"region {number}", work, Polygon(np.asarray(points_mm, dtype=np.float64).round(3)))
    check_region(region, state.regions, plate_mm)
    return replace(_kept(state, (*state.regions, region)), chosen=region.name)


def shift_region(state: BenchState, name: str, by_mm: tuple[float, float], plate_mm: PlateSize) -> BenchState:
    """Return the bench with a region moved; see `add_region` for the errors."""
    region = _found(state, name)
    return _changed(state, region, replace(region, outline_mm=translate(region.outline_mm, *by_mm)), plate_mm)


def set_bounds(state: BenchState, name: str, bounds_mm: Sequence[float], plate_mm: PlateSize) -> BenchState:
    """Return the bench with a region as the rectangle x0, y0, x1, y1; see `add_region` for the errors. [plate mm]"""
    region = _found(state, name)
    x0, y0, x1, y1 = bounds_mm
    if not (x0 < x1 and y0 < y1):
        raise RegionError(
            f"Region {quoted(name)} from x = {x0:g} to {x1:g} mm and y = {y0:g} to {y1:g} mm has no area. "
            "Give left before right and top before bottom."
        )
    return _changed(state, region, replace(region, outline_mm=box(x0, y0, x1, y1)), plate_mm)


def set_corners(
    state: BenchState, name: str, points_mm: Sequence[Sequence[float]], plate_mm: PlateSize
) -> BenchState:
    """Return the bench with a region of other corners; see `add_region` for the errors. [plate mm]"""
    region = _found(state, name)
    outline = Polygon(np.asarray(points_mm, dtype=np.float64).round(3))
    return _changed(state, region, replace(region, outline_mm=outline), plate_mm)


def parse_corners(text: str) -> list[tuple[float, float]]:
    """Return corners that are written as ``x y, x y, x y``, in plate mm.

    Raises
    ------
    RegionError
        If they are no three corners or more.

    Examples
    --------
    >>> parse_corners("2 3, 12.5 3, 7 9")
    [(2.0, 3.0), (12.5, 3.0), (7.0, 9.0)]
    """
    try:
        corners = [
            tuple(float(part) for part in corner.split()) for corner in text.split(",") if corner.strip()
        ]
    except ValueError:
        corners = []
    pairs = [(corner[0], corner[1]) for corner in corners if len(corner) == 2 and np.isfinite(corner).all()]
    if len(pairs) < 3 or len(pairs) != len(corners):
        raise RegionError(
            f"The corners {quoted(text)} make no outline; allowed are three or more, x and y in plate mm, with commas "
            "between corners and points for decimals: 2 3, 12.5 3, 7 9."
        )
    return pairs


def rename_region(state: BenchState, name: str, new_name: str) -> BenchState:
    """Return the bench with a region under another name, by which a proposed one is taken over."""
    region, wanted = _found(state, name), new_name.strip()
    if wanted == name:
        return state
    if fault := name_fault(wanted):
        raise RegionError(fault)
    if wanted.casefold() in {one.name.casefold() for one in state.regions if one is not region}:
        raise RegionError(f"There is a region {quoted(wanted)} already. Give another name.")
    renamed = replace(region, name=wanted, proposed=wanted.startswith(PROPOSED))
    return replace(_kept(state, _swapped(state, region, renamed)), chosen=wanted)


def set_work(state: BenchState, name: str, work: Work) -> BenchState:
    """Return the bench with another kind of work for a region."""
    region = _found(state, name)
    if work not in WORKS:
        raise RegionError(f"The kind of work is {quoted(work)}, allowed is one of {', '.join(WORKS)}.")
    return state if region.work == work else _kept(state, _swapped(state, region, replace(region, work=work)))


def remove_region(state: BenchState, name: str) -> BenchState:
    """Return the bench without a region."""
    region = _found(state, name)
    return replace(_kept(state, tuple(one for one in state.regions if one is not region)), chosen="")


def choose_region(state: BenchState, name: str) -> BenchState:
    """Return the bench with another region to work on; none for a name that there is not."""
    known = {region.name for region in state.regions}
    chosen = name if name in known else ""
    return state if chosen == state.chosen else replace(state, chosen=chosen)


def undo(state: BenchState) -> BenchState:
    """Return the bench with the last change of regions taken back."""
    if not state.past:
        raise RegionError("There is no change of regions to take back.")
    before = replace(_saved(state, state.past[-1]), past=state.past[:-1])
    return replace(before, future=(state.regions, *state.future))


def redo(state: BenchState) -> BenchState:
    """Return the bench with a change of regions that was taken back."""
    if not state.future:
        raise RegionError("There is no change of regions to bring back.")
    after = replace(_saved(state, state.future[0]), future=state.future[1:])
    return replace(after, past=(*state.past, state.regions))


def keep_mine(state: BenchState) -> BenchState:
    """Return the bench after its regions were written over those that someone else wrote."""
    if state.edition is None:
        return state
    mark = file_mark(state.edition.folder / REGIONS_FILE)
    return replace(_saved(replace(state, regions_mark=mark), state.regions), is_disputed=False, notice="")


def take_theirs(state: BenchState) -> BenchState:
    """Return the bench with regions.csv as someone else wrote it; the bench's own can still be brought back."""
    fresh = reread(state)
    return replace(fresh, past=(*state.past, state.regions)[-MOST_KEPT:])


def check_region(region: Region, others: Sequence[Region], plate_mm: PlateSize) -> None:
    """Raise when a region cannot be: outline, place on the plate, overlap.

    Raises
    ------
    RegionError
        What is wrong, what is allowed, what to do.
    """
    outline, (width, height) = region.outline_mm, plate_mm
    if not outline.is_valid:
        raise RegionError("The outline crosses itself. Set its corners in turn around the region.")
    if outline.area < LEAST_AREA_MM2:
        raise RegionError(
            f"The outline holds {outline.area:.2f} mm², at least {LEAST_AREA_MM2:g} mm² is needed. Draw it larger."
        )
    x0, y0, x1, y1 = outline.bounds
    slack = EDGE_SLACK_MM
    if x0 < -slack or y0 < -slack or x1 > width + slack or y1 > height + slack:
        raise RegionError(
            f"The outline reaches from x = {x0:.1f} to {x1:.1f} mm and y = {y0:.1f} to {y1:.1f} mm, but the plate is "
            f"{width:.1f} mm wide and {height:.1f} mm high. Keep it inside the plate mark."
        )
    for other in others:
        shared = outline.intersection(other.outline_mm).area
        if shared > SHARED_FRACTION * min(outline.area, other.outline_mm.area):
            raise RegionError(
                f"The outline shares {shared:.1f} mm² with region {quoted(other.name)}: what differs there would "
                "count twice. Draw it beside that one, or move that one first."
            )


def _found(state: BenchState, name: str) -> Region:
    for region in state.regions:
        if region.name == name:
            return region
    raise RegionError(f"There is no region {quoted(name)}. Choose one on the sheet or in the list.")


def _swapped(state: BenchState, old: Region, new: Region) -> tuple[Region, ...]:
    return tuple(new if region is old else region for region in state.regions)


def _changed(state: BenchState, old: Region, new: Region, plate_mm: PlateSize) -> BenchState:
    check_region(new, [region for region in state.regions if region is not old], plate_mm)
    return replace(_kept(state, _swapped(state, old, new)), chosen=new.name)


def _kept(state: BenchState, regions: tuple[Region, ...]) -> BenchState:
    """Return the bench with other regions, written down, and the ones before to go back to."""
    return replace(_saved(state, regions), past=(*state.past, state.regions)[-MOST_KEPT:], future=())


def _saved(state: BenchState, regions: tuple[Region, ...]) -> BenchState:
    """Write regions.csv unless someone else has changed it, and return the bench with what it holds."""
    if state.edition is None:
        raise RegionError("No edition is open. Give the folder of an edition.")
    path = state.edition.folder / REGIONS_FILE
    check_unchanged(path, state.regions_mark)
    write_regions(state.edition.folder, regions)
    known = {region.name for region in regions}
    return replace(
        state,
        regions=regions,
        regions_mark=file_mark(path),
        chosen=state.chosen if state.chosen in known else "",
        notice="",
    )
