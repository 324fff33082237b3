"""Judge an edition: from its tables to findings, causes and a verdict per pull."""

import math

import numpy as np
import pandas as pd

from proofkit.columns import FIGURES, FINDINGS, JUDGEMENT, MEASURES, SHEETS, make_table
from proofkit.edition import MeasuredEdition
from proofkit.judgement.causes import cause_table, weigh
from proofkit.judgement.comparable import obstacles, pulls_in_order, regions_apart
from proofkit.judgement.contrasts import with_contrasts
from proofkit.judgement.course import courses_of
from proofkit.judgement.course_findings import course_findings
from proofkit.judgement.findings import Finding, find, in_reading_order
from proofkit.judgement.good_pulls import MIN_GOOD, GoodPulls, grow
from proofkit.judgement.in_order import Run, argue, run_order, with_courses, without_courses
from proofkit.judgement.limits import LIMIT_COLUMNS, limits_table
from proofkit.judgement.plate_figures import plate_figures
from proofkit.judgement.power import power_table
from proofkit.judgement.ramps import with_load_ramps
from proofkit.judgement.reason import noted_otherwise, reason
from proofkit.judgement.relay import relay_gate
from proofkit.judgement.remarks import on_chance, on_the_standard, remarks
from proofkit.judgement.running_table import courses_table, running_table
from proofkit.judgement.scales import is_worth_a_look
from proofkit.judgement.symptoms import Evidence, gather_evidence, symptoms_of
from proofkit.judgement.tolerances import printer_findings
from proofkit.judgement.types import Judged
from proofkit.judgement.values import SHEET, Values, gather

_UNITS = {column.name: column.unit.removeprefix("-") for column in MEASURES + SHEETS + FIGURES}

MOST_DISTANCES = 3
"""Distances that a reason without findings tells. [-]"""


def _row(pull: str, verdict: str, why: str, causes: str = "", regions: str = "") -> dict[str, object]:
    return {"pull": pull, "verdict": verdict, "causes": causes, "regions": regions, "reason": why}


def _watched_first(regions: tuple[str, ...], watched: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted(regions, key=lambda region: region not in watched))


def farthest(values: Values, pull: str) -> tuple[str, bool]:
    """Return the largest distances of a pull from the standard in words, and whether any of them matters.

    For editions without limits: distances are in units of the smallest difference that matters.
    """
    at = values.pulls.index(pull)
    far: list[tuple[float, str, bool]] = []
    for name, column in values.columns.items():
        judged = column.judged
        if not judged.finds:
            continue
        for index, region in enumerate(column.regions):
            value = column.natural(column.scaled[at, index])
            reference = np.nan_to_num(column.on_standard[index])
            change = float(value - reference)
            if judged.scale == "log":
                change = change / float(reference) if reference else math.nan
            wanted = (judged.sides == "upper" and change < 0) or (judged.sides == "lower" and change > 0)
            if not math.isfinite(change) or wanted:
                continue
            size = (
                f"{100 * change:+.0f} %"
                if judged.scale == "log"
                else f"{change:+.3g} {_UNITS[name]}".rstrip()
            )
            place = "" if region == SHEET else f" in '{region}'"
            worth = bool(is_worth_a_look(judged, np.asarray(value), np.asarray(reference)))
            far.append((abs(change) / judged.matters, f"{name} {size}{place}", worth))
    far.sort(key=lambda one: -one[0])
    return "; ".join(text for _, text, _ in far[:MOST_DISTANCES]), any(worth for _, _, worth in far)


def _verdict(
    evidence: Evidence, pull: str, findings: list[Finding], watched: tuple[str, ...], possible: frozenset[str]
) -> dict[str, object]:
    if not findings:
        return _row(pull, "matches", "Within the natural spread of good pulls in all that was measured.")
    table = cause_table()
    at = evidence.edition.pulls.index(pull)
    symptoms = symptoms_of(evidence, at, findings)
    causes, why = reason(symptoms, weigh(symptoms.seen, table, possible=possible), table)
    why += noted_otherwise(evidence.notes, pull, evidence.edition.pulls[evidence.standard])
    if evidence.edition.paper_doubt[at] > 0:
        why += " Little bare paper in the scan: densities are uncertain."
    if all(math.isnan(finding.q_value) for finding in findings):
        why += " Flagged by the printer's own tolerance alone."
    regions = _watched_first(symptoms.regions, watched)
    seen = [region for region in regions if region in watched]
    if seen:
        why = f"Watched: {', '.join(seen)}. {why}"
    return _row(pull, "look again", why, "; ".join(causes), "; ".join(regions))


def _possible_causes(measured: MeasuredEdition, run: Run) -> frozenset[str]:
    """Return the causes that can be argued: burr is lost by drypoint only, wear is told from the order alone."""
    causes = set(cause_table().causes)
    if not run.is_known:
        causes -= {"plate wear", "burr loss"}
    if not any(region.work == "drypoint" for region in measured.regions):
        causes.discard("burr loss")
    return frozenset(causes)


def _without_limits(measured: MeasuredEdition, values: Values, why: str) -> dict[str, dict[str, object]]:
    """Return verdicts where no statistics are possible or wanted."""
    varied = measured.edition.declared == "varied"
    rows: dict[str, dict[str, object]] = {}
    for pull in values.pulls:
        text, worth = farthest(values, pull)
        verdict = "look again" if worth and not varied else "matches"
        if pull == measured.standard:
            verdict, text = "standard", ""
        rows[pull] = _row(pull, verdict, f"{why} Farthest from the standard: {text}." if text else why)
    return rows


def _table_of(findings: list[Finding]) -> pd.DataFrame:
    return make_table(
        [{name: getattr(one, name) for name in Finding.__slots__} for one in findings], FINDINGS
    )


def _findings_of(
    measured: MeasuredEdition, values: Values, good: GoodPulls, run: Run
) -> tuple[list[Finding], float]:
    tolerances = measured.edition.tolerances
    found, expected = find(values, good, measured.standard, tolerances)
    found += course_findings(values, good, run, measured.standard, tolerances)
    found += printer_findings(measured.measurements, good, values.pulls, measured.standard, tolerances)
    return in_reading_order(found, values.pulls, measured.edition.watched), expected


def _good_and_run(measured: MeasuredEdition, values: Values) -> tuple[GoodPulls, Run]:
    """Return the good pulls with the courses of the run taken out, and what the order of printing argues."""
    confirming = measured.edition.confirming
    good = grow(values, measured.standard, confirming)
    order = run_order(measured, values.pulls)
    courses = courses_of(good.fits, order, values.pulls.index(measured.standard), good.good)
    run = argue(good.fits, courses, order)
    if any(course.is_believed for course in courses.values()):
        good = grow(without_courses(values, courses), measured.standard, confirming)
    return good, run


def _unjudged(
    measured: MeasuredEdition, values: Values | None
) -> tuple[dict[str, dict[str, object]], tuple[str, ...]]:
    """Return verdicts and remarks of an edition that gets no findings."""
    if measured.edition.declared == "varied" and values is not None:
        why = "Declared varied: distances only, nothing is flagged."
        return _without_limits(measured, values, why), (
            "The edition is declared varied: its sheets get distances from the standard and no flags.",
            *on_the_standard(measured),
        )
    why = "Too few pulls to know the natural spread."
    rows = {} if values is None else _without_limits(measured, values, why)
    count = 0 if values is None else len(values.pulls)
    pulls = "1 pull" if count == 1 else f"{count} pulls"
    return rows, (
        f"{pulls} can be compared; at least {MIN_GOOD} are needed to know the natural spread. Sheets are told by "
        "the smallest differences that matter, without statistics.",
        *on_the_standard(measured),
    )


def _gated(measured: MeasuredEdition, closed: tuple[str, ...]) -> Judged:
    """Return an edition without flags, as its scans do not repeat well enough."""
    why = f"Not comparable: {' '.join(closed)}"
    rows = [
        _row(pull, "standard", "The standard.")
        if pull == measured.standard
        else _row(pull, "not comparable", why)
        for pull in pulls_in_order(measured)
    ]
    return Judged(
        _table_of([]),
        make_table(rows, JUDGEMENT),
        pd.DataFrame(columns=list(LIMIT_COLUMNS)),
        0.0,
        (f"No flags: {' '.join(closed)}", *on_the_standard(measured)),
    )


def _values(measured: MeasuredEdition, pulls: tuple[str, ...]) -> Values:
    """Return all that is judged: the measures of the tables, and the figures worked out from them."""
    standard, regions = measured.standard, measured.regions
    drypoint = frozenset(region.name for region in regions if region.work == "drypoint")
    figures = plate_figures(measured.tone_pictures, standard, pulls, regions)
    values = with_contrasts(gather(measured, pulls, figures), standard, drypoint)
    return with_load_ramps(values, standard, regions, measured.plate_width_mm, measured.plate_height_mm)


def judge(measured: MeasuredEdition) -> Judged:
    """Judge every pull of an edition against the standard and the natural spread of good pulls.

    Parameters
    ----------
    measured : MeasuredEdition
        Tables as `proofkit.columns` declares them; nothing in it is changed.

    Returns
    -------
    Judged
        A flag (`look again`) is a request to look, with a share of chance among the flagged sheets of at most
        `findings.SHEET_RATE`. A varied edition has no findings; every pull that can be compared `matches`, and its
        reason tells the distances. With fewer than three comparable pulls there are no findings either, nor where
        the last re-lay study found that the scanner does not repeat well enough: then no pull but the standard is
        comparable.
    """
    closed = relay_gate(measured.repeatability)
    if closed and measured.edition.declared != "varied":
        return _gated(measured, closed)
    hindered = obstacles(measured)
    pulls = tuple(pull for pull in pulls_in_order(measured) if pull not in hindered)
    rows = {pull: _row(pull, "not comparable", why) for pull, why in hindered.items()}
    values = _values(measured, pulls) if measured.standard in pulls else None
    if values is None or len(pulls) < MIN_GOOD or measured.edition.declared == "varied":
        more, said = _unjudged(measured, values)
        no_limits = pd.DataFrame(columns=list(LIMIT_COLUMNS))
        return Judged(_table_of([]), _judgement(measured, rows | more), no_limits, 0.0, said)
    good, run = _good_and_run(measured, values)
    found, expected = _findings_of(measured, values, good, run)
    evidence = gather_evidence(measured, values, with_courses(good, run.courses, run.explained), run)
    possible = _possible_causes(measured, run)
    for pull in pulls:
        own = [one for one in found if one.pull == pull]
        rows[pull] = _verdict(evidence, pull, own, measured.edition.watched, possible)
    rows[measured.standard] = _row(measured.standard, "standard", "The standard.")
    said = remarks(measured, values, good, evidence)
    said += (on_chance(found, expected, [str(row["verdict"]) for row in rows.values()]),)
    return Judged(
        _table_of(found),
        _judgement(measured, rows),
        limits_table(good, measured.edition.tolerances),
        expected,
        said,
        running_table(values, good),
        courses_table(values, good, run),
        power_table(good, values.pulls.index(measured.standard)),
    )


def _judgement(measured: MeasuredEdition, rows: dict[str, dict[str, object]]) -> pd.DataFrame:
    """Return the table of verdicts in order of pulling; each names the regions that could not be compared."""
    apart = regions_apart(measured)
    told = []
    for pull in pulls_in_order(measured):
        if pull not in rows:
            continue
        row = rows[pull]
        if pull in apart and row["verdict"] != "not comparable":
            row = row | {"reason": f"{row['reason']} Not compared, or only in part: {apart[pull]}."}
        told.append(row)
    return make_table(told, JUDGEMENT)
