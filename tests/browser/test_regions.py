"""Regions drawn with the mouse lie on the plate where they were drawn, within a tenth of a millimetre."""

import csv

import numpy as np
import pytest
import shapely
from playwright.sync_api import expect

from tests.browsing import has_chromium
from tests.scan.scan_files import write_tiff

pytestmark = [
    pytest.mark.browser,
    pytest.mark.slow,
    pytest.mark.skipif(not has_chromium(), reason="no Chromium on this machine"),
]

PER_MM = 20
NEAR_MM = 0.1


@pytest.fixture
def squares(tmp_path):
    """A plate of 50 x 40 mm, 5 mm inside the scan; a dark square on it from (20, 10) to (30, 20) mm. Its corners are
    given by hand, so that nothing but the page's own geometry is tested."""
    folder = tmp_path / "squares"
    (folder / "scans").mkdir(parents=True)
    rng = np.random.default_rng(5)
    light = 0.8 + 0.004 * rng.standard_normal((50 * PER_MM, 60 * PER_MM))
    light[5 * PER_MM : 45 * PER_MM, 5 * PER_MM : 55 * PER_MM] *= 0.9
    light[15 * PER_MM : 25 * PER_MM, 25 * PER_MM : 35 * PER_MM] = 0.08
    write_tiff(folder / "scans" / "a.tif", np.rint(light * 65535).astype(np.uint16), ppi=25.4 * PER_MM)
    x0, x1, y0, y1 = (edge * PER_MM - 0.5 for edge in (5, 55, 5, 45))
    corners = f"{x0} {y0} {x1} {y0} {x1} {y1} {x0} {y1}"
    (folder / "pulls.csv").write_text(f"pull,scan,corners\n1,a.tif,{corners}\n", encoding="utf-8")
    (folder / "edition.toml").write_text(
        'title = "Squares"\nstandard = "1"\nplate_width_mm = 50.0\nplate_height_mm = 40.0\n'
        '[capture]\ntone_curve = "linear"\n',
        encoding="utf-8",
    )
    return folder


def regions(folder):
    path = folder / "regions.csv"
    if not path.exists():
        return {}
    with path.open(encoding="utf-8") as file:
        return {row["name"]: (row["work"], shapely.from_wkt(row["wkt"])) for row in csv.DictReader(file)}


def dark_box(bench):
    """Edges of the dark square on the screen, to a fraction of a px: where the grey passes the middle."""
    grey = bench.grey().astype(float)
    rows, columns = np.nonzero(grey < 120)
    middle_row, middle_column = int(np.median(rows)), int(np.median(columns))
    across, down = grey[middle_row], grey[:, middle_column]
    return *edges(across), *edges(down)


def edges(profile):
    dark = np.flatnonzero(profile < 150)
    first, last = dark[0], dark[-1]
    start = first + (profile[first - 1] - 150) / (profile[first - 1] - profile[first]) - 0.5
    end = last + 1 - (profile[last + 1] - 150) / (profile[last + 1] - profile[last]) + 0.5
    return start, end


def test_a_region_drawn_on_the_screen_is_in_the_file_in_plate_mm(opened, squares):
    bench = opened(squares)
    bench.button("Scan pixels").click()  # 20 px to a mm: a px of the screen is half of what is allowed
    bench.settle()
    bench.press("Rectangle")
    x0, x1, y0, y1 = dark_box(bench)
    bench.drag((x0, y0), ((x0 + x1) / 2, y0 + 3), (x1, y1))
    bench.until(lambda: "region 1" in regions(squares))
    work, outline = regions(squares)["region 1"]
    assert work == "lines"
    assert outline.bounds == pytest.approx((20.0, 10.0, 30.0, 20.0), abs=NEAR_MM)

    bench.press("Polygon")
    per_mm = (x1 - x0) / 10.0  # of the square on the screen
    corners = [(31.0, 21.0), (37.0, 22.0), (34.0, 28.0)]
    for x, y in corners:
        bench.click(x0 + (x - 20.0) * per_mm, y0 + (y - 10.0) * per_mm)
    bench.canvas.press("Enter")
    bench.until(lambda: "region 2" in regions(squares))
    drawn = np.array(regions(squares)["region 2"][1].exterior.coords)[:3]
    assert np.abs(drawn - corners).max() < NEAR_MM

    # Keys of the canvas are not JupyterLab's: b, m and twice d would insert, turn and delete the cell.
    for key in ("b", "m", "d", "d"):
        bench.canvas.press(key)
    count = "jupyterapp.shell.currentWidget.content.model.cells.length"
    assert bench.page.evaluate(count) == 1

    bench.press("Rectangle")
    bench.drag((x0 + 5, y0 + 5), (x1 + 20, y1 + 5))
    expect(bench.notice).to_contain_text("with region 'region 1'")
    assert set(regions(squares)) == {"region 1", "region 2"}

    bench.press("Move")
    bench.click((x0 + x1) / 2, (y0 + y1) / 2)
    bench.tab("Regions")
    name = bench.beside("Name")
    expect(name).to_have_value("region 1")
    name.fill("dark square")
    name.press("Enter")
    bench.until(lambda: "dark square" in regions(squares))
    bench.beside("Work").select_option("tone")
    bench.until(lambda: regions(squares)["dark square"][0] == "tone")
    bench.canvas.press("Alt+Shift+ArrowRight")
    bench.until(lambda: regions(squares)["dark square"][1].bounds[0] > 20.8)
    bench.canvas.press("Control+z")
    bench.until(lambda: regions(squares)["dark square"][1].bounds[0] < 20.2)
    bench.canvas.press("Delete")
    bench.until(lambda: "dark square" not in regions(squares))
    bench.canvas.press("Control+z")
    bench.until(lambda: "dark square" in regions(squares))


def test_keys_alone_draw_a_region(opened, squares):
    bench = opened(squares)
    bench.press("Rectangle")
    bench.canvas.focus()
    bench.canvas.press(" ")
    for _ in range(3):
        bench.canvas.press("ArrowRight")
        bench.canvas.press("ArrowDown")
    bench.canvas.press(" ")
    bench.until(lambda: "region 1" in regions(squares))
    x0, y0, x1, y1 = regions(squares)["region 1"][1].bounds
    assert (x0, y0) == pytest.approx((25.0, 20.0), abs=NEAR_MM)  # the cross stands in the middle of the plate
    assert x1 - x0 == pytest.approx(y1 - y0, abs=NEAR_MM)
    assert x1 - x0 > 3


def test_a_file_changed_by_hand_is_asked_about(opened, squares):
    bench = opened(squares)
    written = 'name,work,wkt\nby hand,open,"POLYGON ((2 2, 9 2, 9 9, 2 9, 2 2))"\n'
    (squares / "regions.csv").write_text(written, encoding="utf-8")
    bench.press("Rectangle")
    bench.drag((200, 200), (260, 240))
    expect(bench.notice).to_contain_text("changed outside the bench")
    assert (squares / "regions.csv").read_text(encoding="utf-8") == written
    bench.button("Take what the file says").click()
    bench.tab("Regions")
    expect(bench.beside("Region")).to_contain_text("by hand")


def test_a_scan_that_is_still_being_written_is_seen_once_it_is_whole(opened, squares):
    scan = squares / "scans" / "a.tif"
    whole = scan.read_bytes()
    scan.write_bytes(whole[: len(whole) // 2])
    bench = opened(squares, settled=False)
    expect(bench.sheet.get_by_role("alert")).to_contain_text("'a.tif' is damaged (it breaks off")
    scan.write_bytes(whole)
    bench.tab("Folder")
    bench.button("Read the folder again").click()
    expect(bench.sheet.get_by_role("alert")).to_be_hidden()
    bench.settle()
    assert dark_box(bench)[1] - dark_box(bench)[0] > 20
    expect(bench.card("1")).not_to_contain_text("'a.tif'")


def test_a_scan_that_is_no_image_shows_a_sentence(opened, squares):
    (squares / "scans" / "a.tif").write_text("not an image", encoding="utf-8")
    (squares / "pulls.csv").write_text("pull,scan\n1,a.tif\n", encoding="utf-8")
    bench = opened(squares, settled=False)
    expect(bench.sheet.get_by_role("alert")).to_contain_text("TIFF, PNG and JPEG are read")
    expect(bench.card("1")).to_contain_text("'a.tif'")
