"""A page as PDF, with a typeface inside that has the letters of all European languages."""

import io
from functools import cache
from pathlib import Path
from xml.sax.saxutils import escape

import matplotlib as mpl
from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Image, LongTable, SimpleDocTemplate, Spacer, TableStyle
from reportlab.platypus import Paragraph as Flowing

from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Picture, Table

INK, SOFT, RULE = HexColor("#231f1c"), HexColor("#645c54"), HexColor("#a79c8a")
MARGIN_MM = 20.0


@cache
def _faces() -> tuple[str, str]:
    """Register the faces that come with the drawing library; the fourteen faces of PDF know Latin 1 only."""
    folder = Path(mpl.get_data_path()) / "fonts" / "ttf"
    for name in ("DejaVuSerif", "DejaVuSerif-Italic"):
        pdfmetrics.registerFont(TTFont(name, str(folder / f"{name}.ttf")))
    return "DejaVuSerif", "DejaVuSerif-Italic"


def _style(size: float, **more: object) -> ParagraphStyle:
    return ParagraphStyle(
        "page",
        fontName=_faces()[0],
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
    italic = _faces()[1]
    flow: list[Flowable] = [
        Flowing(
            escape(document.kind), ParagraphStyle("kind", parent=_style(9.5), fontName=italic, textColor=SOFT)
        ),
        Flowing(escape(document.title), _style(18)),
    ]
    for block in document.blocks:
        flow.extend(_flowables(block, width))
    made = io.BytesIO()
    page = SimpleDocTemplate(
        made, pagesize=A4, leftMargin=MARGIN_MM * mm, rightMargin=MARGIN_MM * mm, topMargin=MARGIN_MM * mm,
        bottomMargin=MARGIN_MM * mm, title=document.title, author="", creator="proofkit", invariant=1,
    )  # fmt: skip
    page.build(flow, onFirstPage=_foot, onLaterPages=_foot)
    return made.getvalue()


def _foot(canvas: object, page: object) -> None:
    """Write the number of the page."""
    canvas.saveState()  # type: ignore[attr-defined]  # reportlab has no types
    canvas.setFont(_faces()[0], 8)  # type: ignore[attr-defined]
    canvas.setFillColor(SOFT)  # type: ignore[attr-defined]
    canvas.drawRightString(A4[0] - MARGIN_MM * mm, 12 * mm, str(page.page))  # type: ignore[attr-defined]
    canvas.restoreState()  # type: ignore[attr-defined]


def _flowables(block: Block, width: float) -> list[Flowable]:
    match block:
        case Heading(text, level):
            return [
                Flowing(escape(text), _style(13.0 if level == 1 else 10.5, spaceBefore=10.0, keepWithNext=1))
            ]
        case Paragraph(text):
            return [Flowing(escape(text), _style(9.5))]
        case Items(texts):
            return [
                Flowing(escape(text), _style(9.5, leftIndent=10.0, bulletIndent=0.0), bulletText="–")
                for text in texts
            ]
        case Table():
            return [_table(block, width), Spacer(1, 8)]
        case Picture(stem, caption):
            image = Image(str(stem.with_name(f"{stem.name}.png")))
            scale = min(1.0, width / image.drawWidth)
            image.drawWidth, image.drawHeight = image.drawWidth * scale, image.drawHeight * scale
            return [image, Flowing(escape(caption), _style(8.5))]


def _table(table: Table, width: float) -> Flowable:
    left, right = _style(8.5), _style(8.5, alignment=2)
    rows = [
        [Flowing(escape(text), right if column in table.numbers else left) for column, text in enumerate(row)]
        for row in (table.header, *table.rows)
    ]
    # The caption is a row of its own, so that it stands above the header on every page.
    caption = [Flowing(escape(table.caption), left), *[""] * (len(table.header) - 1)]
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
