"""The draft documentation sheet of an edition."""

from dataclasses import dataclass

from proofkit.cautions import cautions_for
from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Table
from proofkit.folder.edition import Edition
from proofkit.record.kinds import kinds
from proofkit.record.log import Entry
from proofkit.record.papers import FIELDS, UNKNOWN, Papers
from proofkit.record.reconcile import Reconciliation

KIND_OF_PAGE = "Draft documentation sheet"

DRAFT = (
    "This is a draft made from the papers of the edition, for the artist and the printer to correct and complete. It "
    "proves nothing and is no legal advice. Local law prevails on what has to be told, by whom and in which form."
)

HOW_COUNTED = (
    "Edition and proofs count sheets that are kept; working proofs are named apart, as statutes often leave trial "
    "proofs out of the total. A number says which sheet of the edition this is and nothing about the order of printing."
)

COUNTED = ("edition", "proof")
"""Where a kind counts that belongs to the total."""

SHOP_KEYS = ("ink", "wiping", "cleaner", "paper", "pressure", "blankets", "incident", "note")
"""Cells of the pull log that may name what calls for a caution."""


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """All that the documentation sheet is made from."""

    edition: Edition
    papers: Papers
    log: tuple[Entry, ...]
    reconciliation: Reconciliation
    remarks: tuple[str, ...]
    """Where the papers disagree."""


def documentation_page(sheet: Sheet) -> Document:
    """Return the page; what no paper tells stands as not known, never blank."""
    texts = field_texts(sheet)
    questions = (
        *(f"{one.label.rstrip('?')}: {UNKNOWN}." for one in FIELDS if texts[one.key] == UNKNOWN),
        *sheet.reconciliation.open_questions,
        *sheet.remarks,
    )
    blocks: list[Block] = [
        Paragraph(DRAFT),
        Heading("The edition"),
        Table(
            "As the papers tell it.",
            ("field", "what is known"),
            (
                *((one.label, texts[one.key]) for one in FIELDS),
                ("Size of the plate", _plate_size(sheet.edition)),
            ),
        ),
        Heading("Counts"),
        Paragraph(HOW_COUNTED),
        _counts(sheet),
        _all_pulls(sheet.reconciliation),
        Heading("Open questions"),
        Items(questions) if questions else Paragraph("None."),
    ]
    cautions = cautions_for(_shop_words(sheet))
    if cautions:
        blocks += [Heading("Cautions for the materials named"), Items(cautions)]
    return Document(texts["title"], KIND_OF_PAGE, tuple(blocks))


def field_texts(sheet: Sheet) -> dict[str, str]:
    """Return what is known for every field of the sheet: papers.toml first, then what the other files tell."""
    told = {**_from_folder(sheet.edition), **sheet.papers.texts}
    return {one.key: told.get(one.key) or UNKNOWN for one in FIELDS}


def _from_folder(edition: Edition) -> dict[str, str]:
    """Return fields that edition.toml and pulls.csv tell."""
    years = sorted({pull.notes.get("pulled_on", "")[:4] for pull in edition.pulls} - {""})
    states = sorted({pull.notes.get("state", "") for pull in edition.pulls} - {""})
    papers = list(
        dict.fromkeys(pull.notes.get("paper", "") for pull in edition.pulls if pull.notes.get("paper"))
    )
    return {
        "title": edition.title,
        "printed_years": ", ".join(year for year in years if year.isdecimal()),
        "state": ", ".join(states),
        "papers": "; ".join(papers),
    }


def _plate_size(edition: Edition) -> str:
    if edition.plate_width_mm is None or edition.plate_height_mm is None:
        return UNKNOWN
    return f"{edition.plate_height_mm:g} x {edition.plate_width_mm:g} mm (height x width, of the copper)"


def _counts(sheet: Sheet) -> Table:
    """Set what is kept beside what the artist has fixed, kind by kind."""
    result, authorised = sheet.reconciliation, sheet.papers.authorised
    rows = []
    for kind in kinds():
        kept = result.count(_account_of(kind.counted), kind.name) if kind.counted != "never" else 0
        if kept or kind.name in authorised:
            fixed = str(authorised[kind.name]) if kind.name in authorised else UNKNOWN
            rows.append((kind.name, fixed, str(kept)))
    total = result.count("edition") + result.count("proof")
    sizes = [authorised[kind.name] for kind in kinds() if kind.counted in COUNTED and kind.name in authorised]
    rows.append(("edition and proofs, total", str(sum(sizes)) if sizes else UNKNOWN, str(total)))
    return Table("Impressions that are kept.", ("kind", "authorised", "kept"), tuple(rows), frozenset({1, 2}))


def _account_of(counted: str) -> str:
    return {"edition": "edition", "proof": "proof", "working": "working proof"}[counted]


def _all_pulls(result: Reconciliation) -> Table:
    rows = [
        (one.account, one.kind or "–", str(len(one.pulls)), ", ".join(one.pulls)) for one in result.accounts
    ]
    rows.append(("all pulls", "", str(result.total), ""))
    return Table("Every pull, once.", ("account", "kind", "count", "pulls"), tuple(rows), frozenset({2}))


def _shop_words(sheet: Sheet) -> list[str]:
    texts = [entry[key] for entry in sheet.log for key in SHOP_KEYS if key in entry]
    texts += [text for pull in sheet.edition.pulls for key, text in pull.notes.items() if key in SHOP_KEYS]
    return [*texts, sheet.papers.texts.get("technique", "")]
