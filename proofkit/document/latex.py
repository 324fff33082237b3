"""A page as LaTeX that every installation of it sets: plain packages, signs spelled as commands."""

from pathlib import Path

from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Picture, Table

_SIGNS = {
    "\\": r"\textbackslash{}", "{": r"\{", "}": r"\}", "$": r"\$", "&": r"\&", "#": r"\#", "_": r"\_", "%": r"\%",
    "^": r"\textasciicircum{}", "~": r"\textasciitilde{}", "<": r"\textless{}", ">": r"\textgreater{}",
    "|": r"\textbar{}", '"': r"\textquotedbl{}", "µ": r"\textmu{}", "μ": r"\textmu{}", "°": r"\textdegree{}",
    "±": r"\ensuremath{\pm}", "−": r"\ensuremath{-}", "×": r"\ensuremath{\times}", "²": r"\ensuremath{^2}",
    "³": r"\ensuremath{^3}", "≥": r"\ensuremath{\ge}", "≤": r"\ensuremath{\le}", "–": "--", "—": "---",
    "…": r"\ldots{}", "·": r"\ensuremath{\cdot}", "’": "'", "‘": "`", "“": "``", "”": "''", "√": r"\ensuremath{\surd}",
    "χ": r"\ensuremath{\chi}", "Δ": r"\ensuremath{\Delta}", "∞": r"\ensuremath{\infty}", "\u00a0": "~",
}  # fmt: skip

_PREAMBLE = r"""\documentclass[11pt,a4paper]{article}
\usepackage[T1]{fontenc}
\usepackage[utf8]{inputenc}
\usepackage{textcomp}
\usepackage[margin=20mm]{geometry}
\usepackage{graphicx}
\usepackage{longtable}
\setlength{\parindent}{0pt}
\setlength{\parskip}{0.6em}
"""


def to_latex(document: Document, folder: Path) -> str:
    """Return the page as LaTeX; pictures are named relative to `folder`, where the page will lie."""
    body = "\n\n".join(_block(block, folder) for block in document.blocks)
    return (
        f"{_PREAMBLE}\\title{{{escaped(document.title)}}}\n\\author{{}}\n\\date{{{escaped(document.kind)}}}\n"
        f"\\begin{{document}}\n\\maketitle\n\n{body}\n\\end{{document}}\n"
    )


def escaped(text: str) -> str:
    r"""Return text in which nothing is a command.

    >>> escaped("5 % of line_load")
    '5 \\% of line\\_load'
    """
    return "".join(_SIGNS.get(sign, sign) for sign in " ".join(text.split()))


def _block(block: Block, folder: Path) -> str:
    match block:
        case Heading(text, level):
            return f"\\{'sub' * (level - 1)}section*{{{escaped(text)}}}"
        case Paragraph(text):
            return escaped(text)
        case Items(texts):
            # The empty group keeps a text that begins with a bracket from being read as an option.
            points = "\n".join(f"\\item {{}}{escaped(text)}" for text in texts)
            return f"\\begin{{itemize}}\n{points}\n\\end{{itemize}}"
        case Table():
            return _table(block)
        case Picture(stem, caption):
            where = stem.relative_to(folder).as_posix()
            return (
                "\\begin{center}\n"
                f"\\includegraphics[width=\\linewidth]{{{where}}}\n\n\\small {escaped(caption)}\n\\end{{center}}"
            )


def _table(table: Table) -> str:
    columns = "".join(
        "r" if column in table.numbers else _text_column(table, column) for column in range(len(table.header))
    )
    rows = [_line(table.header), "\\hline", "\\endhead", *(_line(row) for row in table.rows)]
    size, gap = next((size, gap) for most, size, gap in _SIZES if len(table.header) <= most)
    look = f"\\{size}\\setlength{{\\tabcolsep}}{{{gap}}}"
    return (
        f"{{\\small {escaped(table.caption)}\n\n{look}\\begin{{longtable}}[l]{{{columns}}}\n"
        + "\n".join(rows)
        + "\n\\end{longtable}}"
    )


_SIZES = ((7, "small", "4pt"), (10, "footnotesize", "3pt"), (99, "scriptsize", "2pt"))
"""Size of type and half the space between columns by their number, so that a table keeps to the page."""

_LONG = 40
"""Texts beyond this many characters are broken into lines."""


def _text_column(table: Table, column: int) -> str:
    longest = max((len(row[column]) for row in table.rows), default=0)
    return "p{0.4\\linewidth}" if longest > _LONG else "l"


def _line(cells: tuple[str, ...]) -> str:
    return " & ".join("{}" + escaped(cell) for cell in cells) + " \\\\"
