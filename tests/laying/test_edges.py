"""The plate mark of a sheet against the standard's: offsets are those that were put in, and hold what lines do not."""

from dataclasses import replace

import numpy as np
import pytest

from proofkit.frame.types import EdgeMarks, PlateFrame
from proofkit.laying.coarse import refine
from proofkit.laying.edges import edge_courses, edge_offsets
from proofkit.laying.fine import PlateEdges, fit_lines
from proofkit.laying.start import from_frame
from proofkit.scan.levels import levels_of
from tests.laying.plates import BLUR, PER_MM, SIZE, corners, lie, pull
from tests.laying.test_laying import WARPED, error_um
from tests.lines.papers import even_paper

W, H = SIZE
ENDS = (((0, 0), (W, 0)), ((W, 0), (W, H)), ((W, H), (0, H)), ((0, H), (0, 0)))


def frame_of(how, *, off_mm=None, kinds="tone step", count=8, noise_px=0.1, seed=0):
    """A plate mark read `count` times along each edge; `off_mm` moves marks (side, number) outward or inward."""
    rng = np.random.default_rng(seed)
    edges = []
    for side, (a, b) in enumerate(ENDS):
        t = np.linspace(0.08, 0.92, count)[:, None]
        points = (1 - t) * np.array(a) + t * np.array(b)
        for (where, number), off in (off_mm or {}).items():
            if where == side:
                points[number, 1 - side % 2] += off
        pixels = how.place(points) + noise_px * rng.standard_normal(points.shape)
        edges.append(EdgeMarks(pixels, (kinds,) * count))
    return PlateFrame(corners(how), ("tone step",) * 4, (0.1,) * 4, 20.0, marks=tuple(edges))


@pytest.fixture
def courses(plate):
    """Edges of the standard, read without error."""
    return edge_courses(frame_of(lie(), noise_px=0.0), plate.laying)


def test_the_standards_edges_lie_on_its_plate(courses):
    assert [c.along_axis for c in courses] == [0, 1, 0, 1]
    for course, place in zip(courses, (0, W, H, 0), strict=True):
        assert course.across_mm == pytest.approx(place, abs=1e-6)
        assert (np.diff(course.along_mm) > 0).all()


def test_a_shifted_laying_is_told_across_each_edge(plate, courses):
    """The laying says that the sheet lies 0.06 mm farther right than it does."""
    wrong = plate.laying.affine.copy()
    wrong[:, 2] += PER_MM * np.array([0.06, 0.0])
    found = edge_offsets(frame_of(lie(), noise_px=0.0), replace(plate.laying, affine=wrong), courses)
    upright = np.abs(found.normals[:, 0]) == 1
    assert found.offsets_mm[upright] == pytest.approx(-0.06, abs=1e-6)
    assert found.offsets_mm[~upright] == pytest.approx(0.0, abs=1e-6)
    assert len(np.unique(found.side)) == 4
    assert found.alike.all()


def test_turned_and_mirrored_sheets_have_the_same_offsets(plate, courses):
    how = lie(turn_deg=180.4, mirror=True)
    frame = frame_of(how, noise_px=0.0)
    turned = PlateFrame(
        np.roll(frame.corners_px, 1, axis=0), frame.kinds, frame.u_edges_px, 20.0, marks=frame.marks[::-1]
    )
    affine = np.column_stack((how.linear, how.offset))
    laying = replace(plate.laying, affine=affine, warp_px=np.zeros_like(plate.laying.warp_px))
    found = edge_offsets(turned, laying, courses)
    assert len(np.unique(found.side)) == 4
    assert found.offsets_mm == pytest.approx(0.0, abs=1e-6)


def test_what_was_read_on_something_else_is_left_out(plate, courses):
    """All of the top edge lies 0.2 mm inside, on the flank of a shade; one mark at the right strays by 0.1 mm."""
    off = {(0, number): 0.2 for number in range(8)} | {(1, 3): 0.1}
    found = edge_offsets(frame_of(lie(), off_mm=off, kinds="emboss shade"), plate.laying, courses)
    assert set(found.side) == {1, 2, 3}
    assert (found.side == 1).sum() == (found.side == 3).sum() - 1
    assert np.abs(found.offsets_mm).max() < 0.02


def test_film_that_begins_farther_off_is_believed(plate, courses):
    """A laying can be 0.3 mm off beside open ground, where only the film's edge says so; 0.7 mm is another edge."""
    off = {(0, number): 0.3 for number in range(8)} | {(2, number): 0.7 for number in range(8)}
    found = edge_offsets(frame_of(lie(), off_mm=off, noise_px=0.0), plate.laying, courses)
    assert set(found.side) == {0, 1, 3}
    assert found.offsets_mm[found.side == 0] == pytest.approx(0.3, abs=1e-6)


def test_marks_of_another_kind_are_told_apart(plate, courses):
    found = edge_offsets(frame_of(lie(), kinds="bevel line"), plate.laying, courses)
    assert len(found.offsets_mm)
    assert not found.alike.any()


def test_no_mark_no_offsets(plate, courses):
    bare = replace(frame_of(lie()), marks=())
    assert edge_courses(bare, plate.laying) == ()
    assert edge_courses(None, plate.laying) == ()
    assert len(edge_offsets(bare, plate.laying, courses).offsets_mm) == 0


def test_the_plate_mark_holds_what_lines_do_not(plate, courses):
    """Where all lines run one way they leave the sheet free along themselves: the edges halve the error."""
    upright = np.abs(plate.lines.lines.normals[:, 0]) > 0.85
    lines = replace(plate.lines, clear=plate.lines.clear & upright)
    how, paper = lie(**WARPED), even_paper()
    plane = pull(plate.strokes, how, seed=2)
    start, _, _ = from_frame(frame_of(how), levels_of(plane), paper.luminance, plate.pictures)
    # patches of these lines alone would not tell either: a start that is off along them
    laying, _ = refine(start, levels_of(plane), paper.luminance, plate.pictures)
    x, y = np.meshgrid(np.arange(laying.warp_px.shape[1]), np.arange(laying.warp_px.shape[0]))
    bent = laying.warp_px + PER_MM * 0.08 * np.stack((0 * x, np.cos(x + y)), axis=-1)
    laying = replace(laying, warp_px=bent)
    without = fit_lines(laying, plane, paper, lines, BLUR).laying
    with_edges = fit_lines(laying, plane, paper, lines, BLUR, PlateEdges(frame_of(how), courses)).laying
    assert error_um(with_edges, how) < 0.5 * error_um(without, how)
