import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from proofkit.errors import FolderError
from proofkit.folder.edition import Tolerance, Wedge
from proofkit.folder.read import read_edition


def problems_of(folder):
    with pytest.raises(FolderError) as caught:
        read_edition(folder)
    return str(caught.value).splitlines()


def lines_about(folder):
    """Return what is told about a folder, nothing when it is sound."""
    try:
        read_edition(folder)
    except FolderError as error:
        return str(error).splitlines()
    return []


def test_a_sound_folder_is_read_as_written(harbour):
    edition = read_edition(harbour)
    assert edition.title == "Harbour at dusk"
    assert [pull.pull for pull in edition.pulls] == ["1", "2", "10"]
    assert [pull.notes for pull in edition.pulls] == [{"paper": "wove"}, {}, {"paper": "laid"}]
    assert (edition.standard, edition.confirming) == ("2", ("1", "10"))
    assert [(region.name, region.work, region.outline_mm.area) for region in edition.regions] == [
        ("sky", "lines", 800.0),
        ("water", "tone", 800.0),
    ]
    assert edition.scan_path(edition.pulls[2]) == harbour / "scans" / "pull 10.tif"
    assert edition.remarks == ()


def test_scans_alone_are_an_edition_in_natural_order(harbour):
    for name in ("edition.toml", "pulls.csv", "regions.csv"):
        (harbour / name).unlink()
    (harbour / "scans" / "._pull 1.tif").write_bytes(b"")
    (harbour / "scans" / "notes.txt").write_bytes(b"")
    edition = read_edition(harbour)
    assert edition.title == "harbour"
    assert [(pull.pull, pull.scan) for pull in edition.pulls] == [
        ("pull 1", "pull 1.tif"),
        ("pull 2", "pull 2.tif"),
        ("pull 10", "pull 10.tif"),
    ]
    assert edition.regions == ()
    assert edition.standard is None
    assert any("pulls.csv" in remark for remark in edition.remarks)


def test_all_problems_of_all_files_are_told_at_once_each_on_its_line(harbour):
    (harbour / "edition.toml").write_text(
        'title = "Harbour"\nplate_width_mm = -3\nplate_height_mm = 100\n[capture]\nppi = "600"\n'
    )
    (harbour / "pulls.csv").write_text("pull,scan\n1,pull 1.tif\n1,pull 2.tif\n,pull 10.tif\n")
    (harbour / "regions.csv").write_text('name,work,wkt\nsky,clouds,"POLYGON ((0 0, 1 1, 1 0, 0 1, 0 0))"\n')
    found = problems_of(harbour)
    assert [line.split(":")[0] for line in found] == [
        "edition.toml line 2",
        "edition.toml line 5",
        "pulls.csv line 4",
        "pulls.csv line 3",
        "regions.csv line 2",
        "regions.csv line 2",
    ]
    assert "'-3' mm" in found[0]
    assert "5 to 2000 mm" in found[0]
    assert "one of lines, tone, open, drypoint" in found[4]
    assert "crosses itself" in found[5]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("plate_width_mm = 148", "plate_height_mm"),
        ("declared = 'mixed'", "'uniform', 'varied'"),
        ("standard = 3", "'1', '2', '10'"),
        ("standard = true", "whole number"),
        ("confirming = '1'", "list of pulls"),
        ("confirming = ['01']", "There is '1'"),
        ("watched = ['sea']", "'sky', 'water'"),
        ("title = 7", "text between quotes"),
        ("[capture]\ntone_curve = 'gamma 22'", "'gamma 2.2'"),
        ("[capture]\ntone_curve = 'wedge'", "[capture.wedge]"),
        ("[capture]\nppi = 1e9", "50 to 20000 px/inch"),
        ("[capture]\nppi = nan", "50 to 20000 px/inch"),
        ("[capture.wedge]\ndensities = [0.1, 0.5, 0.3]\ncorners = [0, 0, 9, 0]", "all rising or all falling"),
        ("[capture.wedge]\ndensities = [0.1, 0.5, 0.9]\ncorners = [0, 0, 9]", "four corners"),
        ("[capture.wedge]\nsteps = 9\ncorners = [0, 0, 9, 0]", "first_density"),
        ("[tolerances]\nline_weight = 3", "no measure"),
        ("[tolerances]\nline_load_um = 0", "above 0"),
        ("[tolerances.sea]\nline_load_um = 3", "'sky', 'water'"),
        ("title = ", "not TOML"),
    ],
)
def test_a_wrong_setting_is_told_in_one_line_with_what_is_allowed(harbour, line, told):
    (harbour / "edition.toml").write_text(line + "\n")
    found = problems_of(harbour)
    assert len(found) == 1
    assert found[0].startswith("edition.toml")
    assert told in found[0]


def test_settings_of_capture_and_tolerance_are_taken_over(harbour):
    (harbour / "edition.toml").write_text(
        "plate_width_mm = 148\nplate_height_mm = 105.5\ndeclared = 'varied'\nwatched = ['sky']\n"
        "[capture]\nppi = 600\ntone_curve = 'GAMMA 1.8'\nbacking = 'black card'\n"
        "[capture.wedge]\nsteps = 3\nfirst_density = 0.05\nstep_density = 0.15\n"
        "corners = [[10, 20], [30, 20], [30, 400], [10, 400]]\n"
        "[tolerances]\nline_load_um = 4\n[tolerances.sky]\nplate_tone_density = 0.02\n"
    )
    edition = read_edition(harbour)
    assert (edition.plate_width_mm, edition.plate_height_mm) == (148.0, 105.5)
    assert edition.declared == "varied"
    assert (edition.capture.ppi, edition.capture.tone_curve) == (600.0, "gamma 1.8")
    assert edition.capture.backing == "black card"
    assert edition.capture.wedge == Wedge((0.05, 0.2, 0.35), ((10, 20), (30, 20), (30, 400), (10, 400)))
    assert edition.tolerances == (
        Tolerance("*", "line_load_um", 4.0),
        Tolerance("sky", "plate_tone_density", 0.02),
    )


def test_an_unknown_key_is_remarked_and_costs_nothing(harbour):
    (harbour / "edition.toml").write_text("standart = 2\n[capture]\ndpi = 600\n")
    remarks = read_edition(harbour).remarks
    assert any("'standart'" in remark and "standard" in remark for remark in remarks)
    assert any("line 3" in remark and "'dpi' in [capture]" in remark for remark in remarks)


@pytest.mark.parametrize("make", [lambda path: None, lambda path: path.write_text("")])
def test_no_folder_is_told_in_one_line(tmp_path, make):
    make(tmp_path / "nowhere")
    assert len(problems_of(tmp_path / "nowhere")) == 1


def test_a_folder_without_scans_is_told_in_one_line(tmp_path):
    found = problems_of(tmp_path)
    assert len(found) == 1
    assert "no scans" in found[0]


def test_text_that_steers_a_terminal_is_not_repeated(harbour):
    (harbour / "pulls.csv").write_text("pull,scan\n1\x1b[2J,pull 1.tif\n")
    assert "\x1b" not in problems_of(harbour)[0]


FILES = ("edition.toml", "pulls.csv", "regions.csv")
TOML_VALUES = st.recursive(
    st.sampled_from(
        ["1", "-1.5", "1e999", "nan", "true", "'x'", "2024-05-17", "0x" + "f" * 5000, "9" * 5000]
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda values: f"[{', '.join(values)}]"),
        inner.map(lambda value: f"{{ a = {value} }}"),
    ),
    max_leaves=4,
)
KEYS = st.sampled_from(
    ["title", "plate_width_mm", "plate_height_mm", "declared", "standard", "confirming", "watched", "capture.ppi",
     "capture.tone_curve", "capture.wedge.densities", "capture.wedge.steps", "capture.wedge.corners", "capture",
     "tolerances", "tolerances.line_load_um", "tolerances.sky.line_load_um", "other"]
)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(
    name=st.sampled_from(FILES),
    content=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)),
)
@example(name="edition.toml", content=b"title = " + b"[" * 5000)
@example(name="regions.csv", content=b'name,work,wkt\nsky,lines,"POLYGON ((0 0, 1e999 0, 1 1, 0 0))"\n')
@example(name="regions.csv", content=b'name,work,wkt\nsky,lines,"GEOMETRYCOLLECTION (POINT (0 0))"\n')
@example(name="pulls.csv", content=b"pull,scan\n1,con\n2,...\n3,.\n")
def test_no_content_of_a_file_does_more_than_be_told(harbour, name, content):
    (harbour / name).write_bytes(content)
    assert all(line.startswith(FILES) for line in lines_about(harbour))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
@given(st.dictionaries(KEYS, TOML_VALUES, min_size=1, max_size=4))
def test_no_value_of_a_setting_does_more_than_be_told(harbour, values):
    (harbour / "edition.toml").write_text("\n".join(f"{key} = {value}" for key, value in values.items()))
    assert all(line.startswith(FILES) for line in lines_about(harbour))


def test_without_pulls_csv_a_pull_that_is_not_there_is_looked_for_among_the_scans(tmp_path):
    scans = tmp_path / "scans"
    scans.mkdir()
    (scans / "pull_1.tif").write_bytes(b"II*")
    (tmp_path / "edition.toml").write_text('standard = "1"\n', encoding="utf-8")
    with pytest.raises(FolderError, match=r"none of that name in scans/, and no pulls\.csv names pulls"):
        read_edition(tmp_path)
