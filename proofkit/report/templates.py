"""Templates of the page; every value is escaped unless the template itself says that it is ours."""

import jinja2

from proofkit.edition import MeasuredEdition
from proofkit.report.cards import Card


def templates() -> jinja2.Environment:
    """Return the templates, with escaping on whatever a file is called."""
    return jinja2.Environment(
        loader=jinja2.PackageLoader("proofkit.report", "."),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )


def card_fragment(card: Card, measured: MeasuredEdition) -> str:
    """Return one sheet beside the standard as a piece of HTML for the bench."""
    parts = templates().get_template("parts.html.j2").module
    word = "provisional standard" if measured.is_provisional else "standard"
    return str(parts.card_body(card, measured, word))  # type: ignore[attr-defined]  # made by jinja
