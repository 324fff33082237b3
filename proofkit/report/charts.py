"""Charts of the report, each with a table that says the same without drawing."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import plotly.graph_objects as go

from proofkit.edition import MeasuredEdition
from proofkit.figures import consistency, deviation_map, stretch_and_misfit, tone_distributions
from proofkit.figures.series import pull_order, regions_with, series_of
from proofkit.figures.words import PRIMARY, SHEET, bare_number, meaning_of, measure_word, unit_of
from proofkit.judgement.types import Judged

OPEN_WITHOUT_FINDINGS = 2
"""Consistency charts that stand open when nothing was found."""

MOST_OPEN = 2
"""Consistency charts that stand open at most."""

TONE_PULLS = 9
"""Pulls in one chart of tone distributions at most."""


@dataclass(frozen=True, slots=True)
class Table:
    """A plain table: one row head, then cells."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart of the page."""

    name: str
    """Anchor on the page."""
    title: str
    note: str
    figure: str
    """JSON of the figure, safe inside a script element."""
    table: Table | None
    findings: int
    is_open: bool = True


def inside_script(figure: go.Figure) -> str:
    """Return a figure as JSON that cannot end the script element it stands in.

    >>> "<" in inside_script(go.Figure(layout={"title": {"text": "</script>"}}))
    False
    """
    return str(figure.to_json()).replace("<", "\\u003c").replace(">", "\\u003e")


def consistency_charts(measured: MeasuredEdition, judged: Judged) -> tuple[Chart, ...]:
    """Return a chart per judged measure, those with findings first."""
    counts = judged.findings["measure"].value_counts()
    judged_measures = [
        str(m) for m in dict.fromkeys([*judged.limits["measure"], *judged.findings["measure"]])
    ]
    measures = [m for m in judged_measures or PRIMARY if regions_with(measured, m)]
    measures.sort(key=lambda m: (counts.get(m, 0) == 0, PRIMARY.index(m) if m in PRIMARY else len(PRIMARY)))
    found = sum(1 for m in measures if counts.get(m, 0))
    opened = min(max(found, OPEN_WITHOUT_FINDINGS), MOST_OPEN)
    return tuple(
        Chart(
            name=f"measure-{index}",
            title=measure_word(measure),
            note=f"{meaning_of(measure)}{f' [{unit_of(measure)}]' if unit_of(measure) else ''}",
            figure=inside_script(
                _untitled(consistency(measured, judged, measure, _panels(measured, judged, measure)))
            ),
            table=measure_table(measured, judged, measure),
            findings=int(counts.get(measure, 0)),
            is_open=index < opened,
        )
        for index, measure in enumerate(measures)
    )


def _panels(measured: MeasuredEdition, judged: Judged, measure: str) -> list[str]:
    """Return the regions of a chart, those with findings first, so that they are seen without scrolling."""
    found = set(judged.findings.loc[judged.findings["measure"] == measure, "region"])
    return sorted(regions_with(measured, measure), key=lambda region: region not in found)


def _untitled(figure: go.Figure) -> go.Figure:
    """Take the title off: the page has its own heading."""
    figure.update_layout(title_text="", margin_t=26, height=figure.layout.height - 18)
    return figure


def measure_table(measured: MeasuredEdition, judged: Judged, measure: str) -> Table:
    """Return a measure as a table of pulls against regions; a finding carries its word."""
    regions = regions_with(measured, measure)
    found = judged.findings.loc[judged.findings["measure"] == measure]
    words = dict(zip(zip(found["pull"], found["region"], strict=True), found["direction"], strict=True))
    cells: dict[tuple[str, str], str] = {}
    for region in regions:
        series = series_of(measured, measure, region)
        for pull, value, u in zip(series.pulls, series.readings, series.uncertainties, strict=True):
            text = bare_number(measure, value) + (f" ± {bare_number(measure, u)}" if np.isfinite(u) else "")
            word = f" ({words[pull, region]})" if (pull, region) in words else ""
            cells.setdefault((pull, region), text + word)
    unit = f", {unit_of(measure)}" if unit_of(measure) else ""
    return Table(
        head=("Pull", *(("whole sheet" if region == SHEET else region) + unit for region in regions)),
        rows=tuple(
            (pull, *(cells.get((pull, region), "–") for region in regions)) for pull in pull_order(measured)
        ),
    )


def tone_charts(measured: MeasuredEdition, judged: Judged, flagged: Sequence[str]) -> tuple[Chart, ...]:
    """Return tone distributions of the regions concerned, with the pulls flagged there; else of the first region."""
    found = judged.findings.loc[
        judged.findings["pull"].isin(list(flagged)) & (judged.findings["region"] != SHEET)
    ]
    wanted = {
        region.name: [
            pull for pull in flagged if pull in set(found.loc[found["region"] == region.name, "pull"])
        ]
        for region in measured.regions
    }
    wanted = {region: pulls for region, pulls in wanted.items() if pulls}
    if not wanted and measured.regions:
        wanted = {
            measured.regions[0].name: [pull for pull in pull_order(measured) if pull != measured.standard]
        }
    charts = []
    for index, (region, pulls) in enumerate(wanted.items()):
        shown = [pull for pull in pulls if (pull, region) in measured.histograms][:TONE_PULLS]
        if not shown:
            continue
        more = f"; {len(pulls) - len(shown)} more are not drawn" if len(pulls) > len(shown) else ""
        charts.append(
            Chart(
                name=f"tones-{index}",
                title=region,
                note=f"{'pull' if len(shown) == 1 else 'pulls'} {', '.join(shown)} over the standard{more}",
                figure=inside_script(_untitled(tone_distributions(measured, region, shown))),
                table=tone_table(measured, region, (measured.standard, *shown)),
                findings=0,
                is_open=index == 0,
            )
        )
    return tuple(charts)


def tone_table(measured: MeasuredEdition, region: str, pulls: Sequence[str]) -> Table:
    """Return the tone distribution of a region in numbers, one row per pull."""
    columns = (
        "density_p05",
        "density_p25",
        "density_p50",
        "density_p75",
        "density_p95",
        "tone_distance_density",
    )
    readings: dict[str, list[str]] = {}
    for column in columns:
        series = series_of(measured, column, region)
        first = dict(zip(series.pulls[::-1], series.readings[::-1], strict=True))
        for pull in pulls:
            readings.setdefault(pull, []).append(bare_number(column, float(first.get(pull, np.nan))))
    head = (
        "Pull",
        "a twentieth, D",
        "a quarter, D",
        "half, D",
        "three quarters, D",
        "all but a twentieth, D",
    )
    return Table((*head, "Distance from the standard's, D"), tuple((pull, *readings[pull]) for pull in pulls))


def map_chart(measured: MeasuredEdition, judged: Judged) -> Chart:
    """Return the map of deviations."""
    figure = inside_script(_untitled(deviation_map(judged, measured)))
    return Chart("map", "Where the pulls leave the standard", "", figure, None, len(judged.findings))


def sheets_chart(measured: MeasuredEdition) -> Chart:
    """Return stretch and misfit with their table."""
    order = {pull: place for place, pull in enumerate(pull_order(measured))}
    sheets = measured.sheets.sort_values("pull", key=lambda pulls: pulls.map(order), kind="stable")
    columns = ("stretch_x", "stretch_y", "misfit_um", "paper_density", "doubling_um", "crease_mm")
    heads = (measure_word(c) + (f", {unit_of(c)}" if unit_of(c) else "") for c in columns)
    return Chart(
        name="stretch",
        title="How the sheets lie on the standard",
        note="",
        figure=inside_script(_untitled(stretch_and_misfit(sheets))),
        table=Table(
            head=("Pull", *heads, "Limited by"),
            rows=tuple(
                (
                    str(row["pull"]),
                    *(bare_number(c, float(row[c])) for c in columns),
                    str(row["quality"]) or "–",
                )
                for _, row in sheets.iterrows()
            ),
        ),
        findings=0,
    )
