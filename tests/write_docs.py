"""Refresh the tables of DEVELOPERS.md that are made from the code: ``python -m tests.write_docs``.

A table stands between ``<!-- name -->`` and ``<!-- /name -->``; names are `columns` and `flags`.
"""

import re
import sys
from pathlib import Path

from proofkit.columns import TABLES, UNCERTAINTIES
from proofkit.quality import WORDS

DEVELOPERS = Path(__file__).parents[1] / "DEVELOPERS.md"


def column_tables() -> str:
    """Return one Markdown table for each table, the uncertainties in one sentence."""
    uncertain = {column.name for column in UNCERTAINTIES}
    parts = []
    for name, columns in TABLES.items():
        rows = ["| column | kind | unit | meaning |", "|---|---|---|---|"]
        for column in columns:
            if column.name not in uncertain:
                meaning = column.meaning.replace("|", "\\|")
                rows.append(f"| `{column.name}` | {column.kind} | {column.unit} | {meaning} |")
        if uncertain & {column.name for column in columns}:
            rows += [
                "",
                "and for each measure `m` its standard uncertainty `u_m`, in the unit of the measure.",
            ]
        parts.append(f"### `{name}`\n\n" + "\n".join(rows))
    return "\n\n".join(parts)


def flag_table() -> str:
    """Return the Markdown table of quality flags."""
    rows = ["| word | meaning |", "|---|---|"]
    return "\n".join(rows + [f"| {word} | {meaning} |" for word, meaning in WORDS.values()])


MADE = {"columns": column_tables, "flags": flag_table}


def refreshed(text: str) -> str:
    """Return the text of DEVELOPERS.md with its tables made anew; text without markers stays as it is."""
    for name, make in MADE.items():
        between = re.compile(rf"(<!-- {name} -->\n).*?(<!-- /{name} -->)", re.DOTALL)
        made = make()
        text = between.sub(lambda found, made=made: f"{found[1]}\n{made}\n\n{found[2]}", text)
    return text


if __name__ == "__main__":
    before = DEVELOPERS.read_text(encoding="utf-8")
    missing = [name for name in MADE if f"<!-- {name} -->" not in before or f"<!-- /{name} -->" not in before]
    if missing:
        sys.exit(f"{DEVELOPERS.name} has no <!-- {missing[0]} --> ... <!-- /{missing[0]} -->.")
    DEVELOPERS.write_text(refreshed(before), encoding="utf-8")
