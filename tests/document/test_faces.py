"""Letters that the usual face of a PDF lacks: read back by another program, with faces that are built here."""

import io

import pypdf
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from hypothesis import given, settings
from hypothesis import strategies as st

from proofkit.document import faces
from proofkit.document.blocks import Document, Heading, Items, Paragraph, Table
from proofkit.document.pdf import letters_without_face, to_pdf

# "Boat in the cove" (the sample edition's title), and "print".
JAPANESE, CHINESE, KOREAN, TRADITIONAL = "入り江の舟", "版画 江边", "강가의 배", "銅版畫 邊"
ARABIC = "قارب"


def build_face(path, letters, *, fs_type=0):
    """Write a TrueType face in which every letter is a square."""
    pen = TTGlyphPen(None)
    for k, point in enumerate([(50, 0), (50, 700), (750, 700), (750, 0)]):
        (pen.moveTo if k == 0 else pen.lineTo)(point)
    pen.closePath()
    square = pen.glyph()
    order = [".notdef", *(f"g{k}" for k in range(len(letters)))]
    made = FontBuilder(1000, isTTF=True)
    made.setupGlyphOrder(order)
    made.setupCharacterMap({ord(letter): f"g{k}" for k, letter in enumerate(letters)})
    made.setupGlyf(dict.fromkeys(order, square))
    made.setupHorizontalMetrics(dict.fromkeys(order, (800, 50)))
    made.setupHorizontalHeader(ascent=800, descent=-200)
    made.setupNameTable({"familyName": path.stem, "styleName": "Regular", "psName": path.stem})
    made.setupOS2(fsType=fs_type)
    made.setupPost()
    made.save(path)
    return str(path)


@pytest.fixture
def computer(monkeypatch):
    """Returns a function that says which faces the computer has."""

    def has(*paths):
        monkeypatch.setattr(faces, "findSystemFonts", lambda fontext: list(paths))
        faces._system_face.cache_clear()

    yield has
    faces._system_face.cache_clear()


def page(text):
    return Document(
        text, "Draft", (Heading(text), Paragraph(text), Items((text,)), Table(text, ("a",), ((text,),)))
    )


def read(written):
    return pypdf.PdfReader(io.BytesIO(written))


def faces_in(written):
    """Return names of the faces on the first page, and whether each lies in the file."""
    found = {}
    for entry in read(written).pages[0]["/Resources"]["/Font"].values():
        font = entry.get_object()
        under = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        parts = under.get("/FontDescriptor", {})
        found[str(font["/BaseFont"])] = "/FontFile2" in (parts.get_object() if parts else {})
    return found


@pytest.mark.parametrize(
    ("text", "collection"),
    [
        (JAPANESE, "HeiseiMin-W3"),
        (CHINESE, "STSong-Light"),
        (KOREAN, "HYSMyeongJo-Medium"),
        (TRADITIONAL, "STSong-Light"),  # GBK has the traditional letters as well
    ],
)
def test_asian_titles_are_set_in_the_standard_faces_without_any_on_the_computer(computer, text, collection):
    computer()
    written = to_pdf(page(text))
    assert read(written).pages[0].extract_text().count(text) == 6
    assert any(collection in name for name in faces_in(written))
    assert letters_without_face(page(text)) == ""
    assert written == to_pdf(page(text))


def test_a_face_of_the_computer_is_taken_into_the_file(computer, tmp_path):
    computer(build_face(tmp_path / "few.ttf", "舟"), build_face(tmp_path / "many.ttf", JAPANESE))
    written = to_pdf(page(f"Łódź <b> {JAPANESE}"))
    assert read(written).pages[0].extract_text().count(f"Łódź <b> {JAPANESE}") == 6
    inside = faces_in(written)
    assert [there for name, there in inside.items() if "many" in name] == [True]
    assert not any("Heisei" in name or "few" in name for name in inside)


def test_a_face_whose_maker_forbids_it_is_left_alone(computer, tmp_path):
    computer(build_face(tmp_path / "closed.ttf", JAPANESE, fs_type=0x0002))
    assert not any("closed" in name for name in faces_in(to_pdf(page(JAPANESE))))


def test_a_broken_face_on_the_computer_costs_nothing(computer, tmp_path):
    (tmp_path / "broken.ttf").write_bytes(b"\0\1\0\0 no face at all")
    computer(str(tmp_path / "broken.ttf"), str(tmp_path / "gone.ttf"))
    assert read(to_pdf(page(JAPANESE))).pages[0].extract_text().count(JAPANESE) == 6


def test_letters_that_cannot_be_set_are_said_on_the_page_and_beside_it(computer):
    computer()
    said = letters_without_face(page(ARABIC))
    assert "U+0642" in said
    assert "HTML" in said
    assert "U+0642" in read(to_pdf(page(ARABIC))).pages[0].extract_text()


def test_a_long_text_without_spaces_stays_on_the_page(computer):
    computer()
    text = "舟" * 200
    shown = read(to_pdf(page(text))).pages[0].extract_text()
    assert all(len(line) < 60 for line in shown.splitlines())


@settings(max_examples=40)
@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=30))
def test_any_text_makes_a_page(text):
    assert to_pdf(page(text)).startswith(b"%PDF")
