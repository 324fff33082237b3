"""A page as one HTML file that needs nothing from elsewhere."""

import html
import re

from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Picture, Table

STYLE = """\
:root { --paper: #fdfbf6; --ink: #231f1c; --soft: #645c54; --rule: #ddd6ca; }
* { box-sizing: border-box; }
html { background: var(--paper); color: var(--ink); font: 16px/1.55 Georgia, "Noto Serif", "DejaVu Serif", serif; }
body { max-width: 64rem; margin: 0 auto; padding: 2.2rem 1.6rem 4rem; }
h1, h2, h3 { font-weight: normal; line-height: 1.2; }
h1 { font-size: 2.1rem; margin: 0 0 1.2rem; }
h2 { font-size: 1.4rem; margin: 2.4rem 0 .8rem; padding-top: .8rem; border-top: 1px solid var(--rule); }
h3 { font-size: 1.1rem; margin: 1.6rem 0 .4rem; }
p, ul { max-width: 44rem; }
.kind { font-style: italic; color: var(--soft); margin: 0 0 .2rem; }
.scroll { overflow-x: auto; margin: .8rem 0 1.4rem; }
table { border-collapse: collapse; font-size: .9rem; font-variant-numeric: tabular-nums lining-nums; }
caption { text-align: left; color: var(--soft); padding-bottom: .3rem; }
th, td { padding: .28rem .8rem .28rem 0; text-align: left; vertical-align: top; border-bottom: 1px solid var(--rule);
  font-weight: normal; }
thead th { color: var(--soft); border-bottom: 1px solid var(--soft); vertical-align: bottom; }
.number { text-align: right; }
td.number { white-space: nowrap; }
figure { margin: 1.2rem 0 1.6rem; }
figure svg { max-width: 100%; height: auto; }
figcaption { font-size: .9rem; color: var(--soft); max-width: 44rem; }
@media print { html { background: #fff; font-size: 10.5pt; } body { padding: 0; max-width: none; }
  h2 { break-after: avoid; } tr, figure { break-inside: avoid; } .scroll { overflow: visible; } }
"""


def to_html(document: Document) -> str:
    """Return the page as HTML; pictures are read from their SVG files.

    Raises
    ------
    OSError
        If a picture's file cannot be read.
    """
    body = "\n".join(_block(block, number) for number, block in enumerate(document.blocks))
    title = html.escape(document.title)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n"
        f'<p class="kind">{html.escape(document.kind)}</p>\n<h1>{title}</h1>\n{body}\n</body>\n</html>\n'
    )


def _block(block: Block, number: int) -> str:
    match block:
        case Heading(text, level):
            return f"<h{level + 1}>{html.escape(text)}</h{level + 1}>"
        case Paragraph(text):
            return f"<p>{html.escape(text)}</p>"
        case Items(texts):
            return "<ul>\n" + "\n".join(f"<li>{html.escape(text)}</li>" for text in texts) + "\n</ul>"
        case Table():
            return _table(block)
        case Picture(stem, caption):
            drawing = stem.with_name(f"{stem.name}.svg").read_text(encoding="utf-8")
            shown = html.escape(caption)
            inline = _inline(drawing, f"f{number}-", shown)
            return f"<figure>\n{inline}\n<figcaption>{shown}</figcaption>\n</figure>"


def _inline(drawing: str, lead: str, label: str) -> str:
    """Return an SVG file as a part of the page: names inside it are led in, as two drawings use the same ones."""
    start = drawing[drawing.index("<svg") :]
    led = re.sub(r'(\bid="|xlink:href="#|url\(#)', lambda found: found[1] + lead, start)
    return led.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)


def _table(table: Table) -> str:
    def cell(tag: str, column: int, text: str, *, is_heading: bool) -> str:
        kind = ' class="number"' if column in table.numbers else ""
        scope = ' scope="col"' if is_heading else ""
        return f"<{tag}{scope}{kind}>{html.escape(text)}</{tag}>"

    header = "".join(cell("th", i, text, is_heading=True) for i, text in enumerate(table.header))
    rows = "\n".join(
        "<tr>" + "".join(cell("td", i, text, is_heading=False) for i, text in enumerate(row)) + "</tr>"
        for row in table.rows
    )
    return (
        f'<div class="scroll"><table>\n<caption>{html.escape(table.caption)}</caption>\n'
        f"<thead><tr>{header}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table></div>"
    )
