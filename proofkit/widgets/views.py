"""HTML of the panel: notice, progress, table of verdicts, the sheet beside the standard. All text is escaped."""

import html
import json
from importlib import resources

from proofkit.errors import ProofkitError
from proofkit.figures import consistency
from proofkit.figures.words import measure_word
from proofkit.report.cards import cards
from proofkit.report.page import pile_rows
from proofkit.report.sentences import summary
from proofkit.report.templates import card_fragment
from proofkit.widgets.state import ALL_REGIONS, CheckState

PLOTLY_TYPE = "application/vnd.plotly.v1+json"
"""Kind of output that JupyterLab draws as a chart."""

_HEADS = ("Pull", "Pencilled", "Verdict", "Causes to weigh", "Where", "Most telling")


def style() -> str:
    """Return the style sheet of the panel."""
    text = resources.files("proofkit.widgets").joinpath("panel.css").read_text(encoding="utf-8")
    return f"<style>{text}</style>"


def notice(state: CheckState) -> str:
    """Return the sentence for the person at the panel, read aloud when it changes."""
    lines = "<br>".join(html.escape(line) for line in state.notice.splitlines())
    return f'<div role="status" class="notice">{lines}</div>'


def progress(what: str, done: int, total: int) -> str:
    """Return how far a check has come.

    >>> "3 of 8" in progress("measuring", 3, 8)
    True
    """
    counted = f": {done} of {total}" if total > 1 else ""
    bar = f'<progress max="{max(total, 1)}" value="{done}" aria-label="{html.escape(what)}"></progress>'
    return f'<div class="progress">{bar} {html.escape(what)}{counted}</div>'


def verdicts(state: CheckState) -> str:
    """Return the summary and the table of verdicts, empty before a check."""
    if state.result is None:
        return ""
    measured, judged = state.result.measured, state.result.judged
    head = "".join(f'<th scope="col">{name}</th>' for name in _HEADS)
    rows = []
    for row in pile_rows(measured, judged):
        cells = (
            row.designation,
            row.verdict,
            row.causes,
            row.regions,
            row.telling,
        )
        rows.append(
            f'<tr class="{html.escape(row.verdict.replace(" ", "-"))}"><th scope="row">{html.escape(row.pull)}</th>'
            + "".join(f"<td>{html.escape(cell)}</td>" for cell in cells)
            + "</tr>"
        )
    said = html.escape(" ".join(summary(measured, judged)))
    place = 'class="pile" tabindex="0" data-lm-suppress-shortcuts="true" role="region" aria-label="Verdicts"'
    return (
        f'<p class="summary">{said}</p><div {place}><table><caption>Verdicts, in order of printing</caption>'
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def beside(state: CheckState) -> str:
    """Return the chosen sheet beside the standard, empty before a check."""
    if state.result is None or not state.pull:
        return ""
    measured = state.result.measured
    if state.pull == measured.standard:
        return "<p>This is the standard itself.</p>"
    if state.pull not in measured.tone_pictures:
        return f"<p>{html.escape(measured.failures.get(state.pull, 'This sheet was not measured.'))}</p>"
    try:
        (card,) = cards(measured, state.result.judged, state.result.pictures, [state.pull])
    except ProofkitError as error:
        return f"<p>{html.escape(str(error))}</p>"
    return card_fragment(card, measured)


def chart(state: CheckState) -> tuple[dict[str, object], ...]:
    """Return the consistency chart of the chosen measure and region as an output of a notebook, none before a check.

    JupyterLab draws this kind of output with the chart library that it has loaded already, so that a chart costs
    some kB; it needs no channel back to Python.
    """
    if state.result is None:
        return ()
    regions = None if state.region == ALL_REGIONS else [state.region]
    figure = consistency(state.result.measured, state.result.judged, state.measure, regions)
    name = f"{measure_word(state.measure)} over the pulls"
    data = {PLOTLY_TYPE: json.loads(str(figure.to_json())), "text/plain": name}
    return ({"output_type": "display_data", "data": data, "metadata": {}},)
