"""A page as PDF."""

import io
from collections.abc import Iterator

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Image, LongTable, SimpleDocTemplate, Spacer, TableStyle
from reportlab.platypus import Paragraph as Flowing

from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Picture, Table
from proofkit.document.faces import ITALIC, UPRIGHT, Faces, faces_for
from proofkit.wording import first_of

INK, SOFT, RULE = HexColor("#231f1c"), HexColor("#645c54"), HexColor("#a79c8a")
MARGIN_MM = 20.0


LACKING = (
    "Letters that the PDF has no typeface for stand in it as empty boxes ({letters}); the HTML page beside it shows "
    "them. Letters from right to left, and scripts whose letters join, are never set in the PDF."
)
MOST_LACKING = 8


def _style(size: float, **more: object) -> ParagraphStyle:
    return ParagraphStyle(
        "page",
        fontName=UPRIGHT,
        fontSize=size,
        leading=size * 1.4,
        textColor=INK,
        spaceAfter=size * 0.5,
        **more,
    )


def to_pdf(document: Document) -> bytes:
    """Return the page as a PDF file; the same page gives the same bytes.

    Raises
    ------
    OSError
        If a picture's PNG file cannot be read.
    """
    width = A4[0] - 2 * MARGIN_MM * mm
    faces = faces_for(_texts(document))
    kind = ParagraphStyle("kind", parent=_style(9.5), fontName=ITALIC, textColor=SOFT)
    flow: list[Flowable] = [_set(document.kind, kind, faces), _set(document.title, _style(18), faces)]
    for block in document.blocks:
        flow.extend(_flowables(block, width, faces))
    if faces.lacking:
        flow.append(_set(_lacking(faces), kind, faces))
    made = io.BytesIO()
    page = SimpleDocTemplate(
        made, pagesize=A4, leftMargin=MARGIN_MM * mm, rightMargin=MARGIN_MM * mm, topMargin=MARGIN_MM * mm,
        bottomMargin=MARGIN_MM * mm, title=document.title, author="", creator="proofkit", invariant=1,
    )  # fmt: skip
    page.build(flow, onFirstPage=_foot, onLaterPages=_foot)
    return made.getvalue()


def letters_without_face(document: Document) -> str:
    """Return one sentence on letters that the PDF of a page cannot show; empty when it shows all."""
    faces = faces_for(_texts(document))
    return _lacking(faces) if faces.lacking else ""


def _lacking(faces: Faces) -> str:
    return LACKING.format(
        letters=first_of([f"U+{ord(letter):04X}" for letter in faces.lacking], MOST_LACKING)
    )


def _texts(document: Document) -> Iterator[str]:
    """Give all texts of a page."""
    yield from (document.kind, document.title)
    for block in document.blocks:
        match block:
            case Heading(text) | Paragraph(text) | Picture(caption=text):
                yield text
            case Items(texts):
                yield from texts
            case Table():
                yield block.caption
                for row in (block.header, *block.rows):
                    yield from row


def _set(text: str, style: ParagraphStyle, faces: Faces, bullet: str | None = None) -> Flowable:
    """Return a paragraph; without spaces between words it may break between any two letters."""
    if faces.breaks_anywhere(text):
        style = ParagraphStyle("without spaces", parent=style, wordWrap="CJK")
    return Flowing(faces.marked(text), style, bulletText=bullet)


def _foot(canvas: object, page: object) -> None:
    """Write the number of the page."""
    canvas.saveState()  # type: ignore[attr-defined]  # reportlab has no types
    canvas.setFont(UPRIGHT, 8)  # type: ignore[attr-defined]
    canvas.setFillColor(SOFT)  # type: ignore[attr-defined]
    canvas.drawRightString(A4[0] - MARGIN_MM * mm, 12 * mm, str(page.page))  # type: ignore[attr-defined]
    canvas.restoreState()  # type: ignore[attr-defined]


def _flowables(block: Block, width: float, faces: Faces) -> list[Flowable]:
    match block:
        case Heading(text, level):
            style = _style(13.0 if level == 1 else 10.5, spaceBefore=10.0, keepWithNext=1)
            return [_set(text, style, faces)]
        case Paragraph(text):
            return [_set(text, _style(9.5), faces)]
        case Items(texts):
            style = _style(9.5, leftIndent=10.0, bulletIndent=0.0)
            return [_set(text, style, faces, bullet="–") for text in texts]
        case Table():
            return [_table(block, width, faces), Spacer(1, 8)]
        case Picture(stem, caption):
            image = Image(str(stem.with_name(f"{stem.name}.png")))
            scale = min(1.0, width / image.drawWidth)
            image.drawWidth, image.drawHeight = image.drawWidth * scale, image.drawHeight * scale
            return [image, _set(caption, _style(8.5), faces)]


def _table(table: Table, width: float, faces: Faces) -> Flowable:
    left, right = _style(8.5), _style(8.5, alignment=2)
    rows = [
        [_set(text, right if column in table.numbers else left, faces) for column, text in enumerate(row)]
        for row in (table.header, *table.rows)
    ]
    # The caption is a row of its own, so that it stands above the header on every page.
    caption = [_set(table.caption, left, faces), *[""] * (len(table.header) - 1)]
    made = LongTable([caption, *rows], colWidths=_widths(table, width), repeatRows=2, hAlign="LEFT")
    made.setStyle(
        TableStyle(
            [
                ("SPAN", (0, 0), (-1, 0)),
                ("LINEBELOW", (0, 1), (-1, 1), 0.6, SOFT),
                ("LINEBELOW", (0, 2), (-1, -1), 0.25, RULE),
                ("VALIGN", (0, 0), (-1, -1), "TOP"),
                ("LEFTPADDING", (0, 0), (-1, -1), 0),
                ("TOPPADDING", (0, 0), (-1, -1), 2),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
            ]
        )
    )
    return made


def _widths(table: Table, width: float) -> list[float]:
    """Share the width by the longest text of each column, counted as 6 to 60 signs."""
    longest = [
        max(len(row[column]) for row in (table.header, *table.rows)) for column in range(len(table.header))
    ]
    capped = [min(max(length, 6), 60) for length in longest]
    return [width * length / sum(capped) for length in capped]
