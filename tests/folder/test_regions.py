import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

from proofkit.errors import FolderError, RegionError
from proofkit.folder.edition import Region
from proofkit.folder.regions import check_inside, polygon_wkt, read_regions, write_regions


def read(folder, text):
    (folder / "regions.csv").write_text(text)
    problems, remarks = [], []
    return read_regions(folder, problems, remarks), problems, remarks


def row(wkt, name="sky", work="lines"):
    return f'name,work,wkt\n{name},{work},"{wkt}"\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (row("POLYGON ((0 0, 9 0, 9 9))"), "no outline"),
        (row("a square"), "no outline"),
        (row(""), "no outline"),
        (row("MULTIPOLYGON (((0 0, 9 0, 9 9, 0 0)), ((20 0, 29 0, 29 9, 20 0)))"), "MULTIPOLYGON, allowed is one"),
        (row("LINESTRING (0 0, 9 9)"), "LINESTRING"),
        (row("POLYGON EMPTY"), "0 mm²"),
        (row("POLYGON ((0 0, 9 0, 5 0, 0 0))"), "crosses itself"),
        (row("POLYGON ((0 0, 9 0, 9 inf, 0 0))"), "up to 10000 mm"),
        (row("POLYGON ((0 0, 9 0, 0 9, 0 0))", name="sheet"), "Rename"),
        (row("POLYGON ((0 0, 9 0, 0 9, 0 0))", name="=1+1"), "Rename"),
        (row("POLYGON ((0 0, 9 0, 0 9, 0 0))", name="sky; water"), "semicolon"),
        (row("POLYGON ((0 0, 9 0, 0 9, 0 0))", name=""), "name is empty"),
        (row("POLYGON ((0 0, 9 0, 0 9, 0 0))", work="line"), "lines, tone, open, drypoint"),
        ("name,work,wkt\nsky,lines,POLYGON ((0 0, 9 0, 0 9, 0 0))\n", "double quotes"),
        ("name,wkt\nsky,x\n", "no column work"),
    ],
)  # fmt: skip
def test_what_is_no_region_is_told_in_one_line(tmp_path, text, told):
    regions, problems, _ = read(tmp_path, text)
    assert regions == ()
    assert len(problems) == 1
    assert told in problems[0]


def test_a_third_coordinate_is_dropped_and_holes_are_kept(tmp_path):
    regions, problems, _ = read(
        tmp_path, row("POLYGON Z ((0 0 1, 9 0 1, 9 9 1, 0 9 1, 0 0 1), (1 1 1, 2 1 1, 2 2 1, 1 1 1))")
    )
    assert problems == []
    assert regions[0].outline_mm.area == pytest.approx(81 - 0.5)
    assert not regions[0].outline_mm.has_z


def test_two_regions_of_one_name_are_refused_in_any_case_of_letters(tmp_path):
    text = row("POLYGON ((0 0, 9 0, 0 9, 0 0))") + 'Sky,tone,"POLYGON ((20 0, 29 0, 20 9, 20 0))"\n'
    assert "line 3" in read(tmp_path, text)[1][0]


def test_regions_that_share_most_of_their_ground_are_remarked(tmp_path):
    text = (
        row("POLYGON ((0 0, 10 0, 10 10, 0 10, 0 0))") + 'haze,tone,"POLYGON ((0 0, 10 0, 10 6, 0 6, 0 0))"\n'
    )
    regions, problems, remarks = read(tmp_path, text)
    assert len(regions) == 2
    assert problems == []
    assert "100 %" in remarks[0]


COORDINATE = st.floats(0, 800, allow_nan=False)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60)
@given(
    x=COORDINATE, y=COORDINATE, width=st.floats(0.1, 300), height=st.floats(0.1, 300), proposed=st.booleans()
)
def test_what_is_written_reads_back_to_the_last_bit(tmp_path, x, y, width, height, proposed):
    outline = box(x, y, x + width, y + height)
    write_regions(tmp_path, [Region("sky", "tone", outline, proposed)])
    problems = []
    (region,) = read_regions(tmp_path, problems, [])
    assert problems == []
    assert region.proposed is proposed
    assert region.name == ("proposed sky" if proposed else "sky")
    assert np.array_equal(shapely.get_coordinates(region.outline_mm), shapely.get_coordinates(outline))


def test_well_known_text_agrees_with_the_reference_reader():
    # GEOS, through shapely, is the reference for OGC well-known text (OGC 06-103r4, 7.2).
    outline = Polygon(
        [(0, 0), (1e-7, 40.123456789012345), (30, 41), (30, 0)], [[(10, 10), (12, 10), (12, 12)]]
    )
    assert shapely.from_wkt(polygon_wkt(outline)).equals_exact(outline, 0.0)


def test_writing_replaces_the_file_and_leaves_nothing_beside_it(tmp_path):
    for name in ("sky", "water"):
        write_regions(tmp_path, [Region(name, "tone", box(0, 0, 9, 9))])
    assert [path.name for path in tmp_path.iterdir()] == ["regions.csv"]
    assert "water" in (tmp_path / "regions.csv").read_text()


def test_a_region_with_an_impossible_name_is_not_written(tmp_path):
    with pytest.raises(RegionError, match="Rename"):
        write_regions(tmp_path, [Region("sheet", "tone", box(0, 0, 9, 9))])
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(tmp_path):
    with pytest.raises(FolderError, match="cannot be written"):
        write_regions(tmp_path / "nowhere", [Region("sky", "tone", box(0, 0, 9, 9))])


def test_regions_are_cut_at_the_plate_mark():
    regions = [
        Region("inside", "tone", box(1, 1, 9, 9)),
        Region("at the edge", "tone", box(-0.02, 0, 100, 50)),
        Region("over the edge", "tone", box(90, 40, 130, 60)),
        Region("outside", "tone", box(200, 0, 210, 10)),
        Region("in pixels", "tone", box(1000, 1000, 2000, 2000)),
        Region("cut in two", "tone", Polygon([(10, -5), (20, 5), (30, -5), (40, 5), (50, -5)])),
    ]
    kept, messages = check_inside(regions, 100.0, 50.0)
    assert [region.name for region in kept] == ["inside", "at the edge", "over the edge"]
    assert kept[1].outline_mm.bounds == (0.0, 0.0, 100.0, 50.0)
    assert kept[2].outline_mm.bounds == (90.0, 40.0, 100.0, 50.0)
    assert [message.split("'")[1] for message in messages] == [
        "over the edge",
        "outside",
        "in pixels",
        "cut in two",
    ]
    assert "130.0 mm" in messages[0]
    assert "100.0 mm wide" in messages[0]
