"""Read papers.toml: what the documentation sheet of an edition has to say."""

from dataclasses import dataclass, field
from pathlib import Path

from proofkit.errors import FolderError
from proofkit.folder.problems import quoted, read_text
from proofkit.folder.toml_table import TomlTable, top_of
from proofkit.folder.writing import write_text
from proofkit.record.designations import Numerals
from proofkit.record.kinds import find_kind, kind_fault

PAPERS_FILE = "papers.toml"
UNKNOWN = "not known"
MOST_IMPRESSIONS = 1000
"""Beyond it no plate prints by hand: a few hundred in practice (sources in the trade agree roughly). [-]"""


@dataclass(frozen=True, slots=True)
class Field:
    """One line of the documentation sheet."""

    key: str
    label: str
    hint: str
    """What to write, for the first papers.toml."""


FIELDS = (
    Field("artist", "Artist", "name"),
    Field("title", "Title", "as it stands on the sheets"),
    Field("plate_year", "Year in which the plate was made", "1998, or 1998 to 2001"),
    Field("printed_years", "Year or years of printing", "2024"),
    Field("technique", "Technique", "in order of importance: engraving, drypoint"),
    Field("state", "State", "II of II, and what tells it from the others"),
    Field("other_media", "Is the image also in another medium?", "no, or which, when and by whom"),
    Field(
        "reproduction",
        "Photomechanical copy of another work?",
        "no, or of which, authorised by whom",
    ),
    Field("plate_made_by", "Who made the image on the plate", "the artist, or who"),
    Field("printed_by", "Who printed", "the artist, or who"),
    Field("workshop", "Workshop and place", "name and town"),
    Field("workshop_mark", "Workshop mark", "blind stamp at the lower left, or none"),
    Field("papers", "Paper or papers", "kind, weight, colour, chine collé"),
    Field("sheet_size", "Size of the sheets", "height x width in mm"),
    Field("edition_name", "Which edition of the plate", "first, second on other paper"),
    Field("signed", "Signed: where, how, by whom", "pencil, below right, by the artist"),
    Field("numbered", "Numbered: where and how", "pencil, below left, arabic; proofs in roman"),
    Field("approved", "Did the artist approve plate, proofs and impressions?", "yes, or which not"),
    Field(
        "living",
        "Was the artist living when plate and impressions were made?",
        "yes; else posthumous, from which year",
    ),
    Field("other_editions", "Other editions from this plate, and their size", "none, or which"),
    Field("prior_plates", "Earlier plates of the same image", "none, or which"),
    Field("restrike", "Restrike, or reworked plate?", "no, or what was reworked"),
    Field("plate_status", "What became of the plate", "cancelled, kept, destroyed, altered, steel-faced"),
    Field("plate_status_on", "Since when", "date"),
    Field("plate_evidence", "Evidence of that", "cancellation proof, file of its scan"),
    Field("statement_date", "Date of this statement", "2024-05-01"),
    Field("prepared_by", "Prepared by", "initials"),
)
"""The union of what documentation laws of several places ask for (U.S. states California, New York, Maryland, Hawaii
and Georgia, codes of ethics of printmakers); which of them a sheet needs is a matter of the place."""


@dataclass(frozen=True, slots=True)
class Papers:
    """What papers.toml says."""

    texts: dict[str, str] = field(default_factory=dict)
    """Key of a field -> text; what is not known is not in it."""
    authorised: dict[str, int] = field(default_factory=dict)
    """Kind -> how many the artist has fixed."""
    proof_numerals: Numerals = "arabic"
    remarks: tuple[str, ...] = ()


def read_papers(folder: Path) -> Papers:
    """Return the papers of an edition; empty where there is no papers.toml.

    Raises
    ------
    FolderError
        If anything in it is not as it should be: one line each.
    """
    path = folder / PAPERS_FILE
    if not path.is_file():
        return Papers()
    problems: list[str] = []
    text = read_text(path, problems)
    top = top_of(PAPERS_FILE, text, problems)
    if top is None:
        raise FolderError("\n".join(problems))
    texts = {one.key: word for one in FIELDS if (word := _text(top, one.key))}
    numbering = top.table("numbering")
    numerals = numbering.word("proofs", ("arabic", "roman")) if numbering else None
    authorised = _authorised(top.table("authorised"))
    remarks = top.unknown((*(one.key for one in FIELDS), "authorised", "numbering"))
    if problems:
        raise FolderError("\n".join(problems))
    return Papers(texts, authorised, "roman" if numerals == "roman" else "arabic", tuple(remarks))


def _text(top: TomlTable, key: str) -> str:
    """Return a field as text; years may be written as numbers and dates as dates."""
    value = top.values.get(key)
    if isinstance(value, int) and not isinstance(value, bool):
        return str(value)
    if value is not None and hasattr(value, "isoformat"):
        return str(value)
    return top.word(key) or ""


def _authorised(table: TomlTable | None) -> dict[str, int]:
    if table is None:
        return {}
    found: dict[str, int] = {}
    for key, value in table.values.items():
        if (fault := kind_fault(key)) is not None:
            table.report(key, f"is no kind of impression: {fault}")
            continue
        number = value if isinstance(value, int) and not isinstance(value, bool) else -1
        if not 0 <= number <= MOST_IMPRESSIONS:
            table.report(key, f"is {quoted(value)}, allowed is a whole number from 0 to {MOST_IMPRESSIONS}.")
            continue
        kind = find_kind(key)
        if kind is not None:
            found[kind.name] = number
    return found


def start_papers(folder: Path) -> Path | None:
    """Write a first papers.toml with every key explained; None when there is one already.

    Raises
    ------
    FolderError
        If it cannot be written.
    """
    path = folder / PAPERS_FILE
    if path.exists():
        return None
    lines = [
        "# What the documentation sheet says. Take the # away and fill in; what is left out is shown as not known.",
        "# No names of buyers or other private persons. Local law decides what a sheet has to say.",
    ]
    lines += [f'# {one.key} = "{one.hint}"' for one in FIELDS]
    lines += [
        "",
        "# How many the artist has fixed, kind by kind.",
        "[authorised]",
        "# edition = 30",
        '# "artist\'s proof" = 3',
        "",
        "# Proofs in arabic or roman numbers; the edition itself is always in arabic ones.",
        "[numbering]",
        '# proofs = "roman"',
        "",
    ]
    return write_text(path, "\n".join(lines))
