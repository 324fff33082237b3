"""A page as Markdown with tables, as most readers of it know them."""

import re
from pathlib import Path

from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Picture, Table

_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~$&])")
_AT_BEGINNING = re.compile(r"^(\s*)([-+]|\d+[.)](?=\s|$))")
"""Bullets, rules and numbers of lists; a dash may also stand alone or in a row."""


def to_markdown(document: Document, folder: Path) -> str:
    """Return the page as Markdown; pictures are named relative to `folder`, where the page will lie."""
    parts = [f"*{escaped(document.kind)}*", f"# {escaped(document.title)}"]
    parts += [_block(block, folder) for block in document.blocks]
    return "\n\n".join(parts) + "\n"


def escaped(text: str) -> str:
    r"""Return text in which nothing is markup.

    >>> escaped("plate_tone *dark*"), escaped("1. sky"), escaped("-")
    ('plate\\_tone \\*dark\\*', '1\\. sky', '\\-')
    """
    one_line = " ".join(text.split())
    plain = _SIGNS.sub(r"\\\1", one_line)
    return _AT_BEGINNING.sub(lambda found: f"{found[1]}{found[2][:-1]}\\{found[2][-1]}", plain)


def _block(block: Block, folder: Path) -> str:
    match block:
        case Heading(text, level):
            return f"{'#' * (level + 1)} {escaped(text)}"
        case Paragraph(text):
            return escaped(text)
        case Items(texts):
            return "\n".join(f"- {escaped(text)}" for text in texts)
        case Table():
            return _table(block)
        case Picture(stem, caption):
            where = stem.with_name(f"{stem.name}.png").relative_to(folder).as_posix()
            return f"![{escaped(caption)}]({where})"


def _table(table: Table) -> str:
    marks = ["---:" if column in table.numbers else "---" for column in range(len(table.header))]
    lines = [table.header, tuple(marks), *table.rows]
    shown = [
        "| " + " | ".join(cells if line == 1 else map(escaped, cells)) + " |"
        for line, cells in enumerate(lines)
    ]
    return f"{escaped(table.caption)}\n\n" + "\n".join(shown)
