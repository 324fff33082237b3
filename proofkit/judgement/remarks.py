"""Say what limits the judgement of an edition, one sentence each."""

import math

import numpy as np

from proofkit.edition import MeasuredEdition
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE
from proofkit.judgement.course_words import on_courses
from proofkit.judgement.findings import SHEET_RATE, Finding, in_units
from proofkit.judgement.good_pulls import LEAVING_NAMED, MIN_GOOD, GoodPulls
from proofkit.judgement.limits import FEW_PULLS
from proofkit.judgement.spread import spread_bounds
from proofkit.judgement.symptoms import Evidence
from proofkit.judgement.values import Values
from proofkit.wording import percent


def _names(pulls: tuple[str, ...]) -> str:
    return ", ".join(f"'{pull}'" for pull in pulls)


def on_the_standard(measured: MeasuredEdition) -> list[str]:
    """Return what is to be said of the standard."""
    if not measured.is_provisional:
        return []
    return [
        f"No standard is named: pull '{measured.standard}', the most central one, serves as provisional standard."
    ]


def _on_confirming(measured: MeasuredEdition) -> list[str]:
    """Return what is to be said of the confirming pulls where they do not set the limits."""
    said: list[str] = []
    if len(set(measured.edition.confirming) - {measured.standard}) < MIN_GOOD - 1:
        said.append(
            "Fewer than two confirming pulls besides the standard: the natural spread is taken from those pulls of the "
            "edition that lie nearest to the standard, and all limits are trial limits."
        )
    return said


def _on_good_pulls(values: Values, good: GoodPulls) -> list[str]:
    said: list[str] = []
    count = int(good.good.sum())
    said.append(
        f"{count} of {len(values.pulls)} comparable pulls show the natural spread and set the limits"
        + (", grown from the confirming pulls." if good.from_confirming else ".")
    )
    if count < FEW_PULLS:
        low, high = spread_bounds(1.0, max(count - 1, 1))
        said.append(
            f"With {count} good pulls a spread is itself known only to between {low:.2f} and {high:.1f} times its "
            "value (95 %); the usual spread of a steady printer counts as four more pulls."
        )
    if good.left:
        said.append(
            f"Named as confirming, but unlike the other good pulls: {_names(good.left)}. Look at them first."
        )
    return said


def _on_floors(good: GoodPulls) -> list[str]:
    still = [name for name, fit in good.fits.items() if fit.has_no_spread]
    if not still:
        return []
    return [
        f"Good pulls do not vary at all in: {'; '.join(still)}. The least spread that is believed stands in."
    ]


def on_chance(found: list[Finding], expected: float, verdicts: list[str]) -> str:
    """Return how many of the findings and of the flagged sheets may be chance."""
    flagged = verdicts.count("look again")
    by_printer = sum(math.isnan(finding.q_value) for finding in found)
    told = len(found) - by_printer
    findings = "1 finding" if told == 1 else f"{told} findings"
    sheets = "1 sheet is" if flagged == 1 else f"{flagged} sheets are"
    text = (
        f"{findings}, of which {expected:.1f} are expected to be chance (false discovery rate "
        f"{percent(FALSE_DISCOVERY_RATE)} over all regions and measures of the edition). {sheets} flagged, of which at "
        f"most {SHEET_RATE * flagged:.1f} may be expected to be sound (rate {percent(SHEET_RATE)} over the sheets)."
    )
    more = "1 more finding is" if by_printer == 1 else f"{by_printer} more findings are"
    return text + (f" {more} by the printer's own limits." if by_printer else "")


def on_tolerances(measured: MeasuredEdition, good: GoodPulls) -> list[str]:
    """Return what is to be said of the printer's own limits: those that cannot be met, and those without a measure."""
    said: list[str] = []
    for tolerance in measured.edition.tolerances:
        where = "anywhere" if tolerance.region == "*" else f"in '{tolerance.region}'"
        fit = good.fits.get(tolerance.measure)
        chosen = [
            index
            for index, region in enumerate(fit.column.regions if fit else ())
            if tolerance.region in ("*", region)
        ]
        if fit is None or not chosen:
            rows = measured.measurements
            has = rows[tolerance.measure].notna() & (
                (rows["region"] == tolerance.region) | (tolerance.region == "*")
            )
            if not has.any():
                said.append(
                    f"The tolerance of {tolerance.allowed:g} for {tolerance.measure} has nothing to judge: it was not "
                    f"measured {where}."
                )
            continue
        spread = max(
            float(in_units(fit, float(fit.centre[index]), np.asarray(fit.total.good_spread[index])))
            for index in chosen
        )
        if tolerance.allowed < spread:
            said.append(
                f"The tolerance of {tolerance.allowed:g} for {tolerance.measure} {where} is less than good pulls "
                f"differ by (standard deviation {spread:.3g}), so every third good pull or more will exceed it. "
                "Widen it, or print more evenly."
            )
    return said


def remarks(
    measured: MeasuredEdition, values: Values, good: GoodPulls, evidence: Evidence
) -> tuple[str, ...]:
    """Return what limits the judgement, most general first."""
    at = values.pulls.index(measured.standard)
    said = on_the_standard(measured) + _on_confirming(measured) + _on_good_pulls(values, good)
    if good.sheet_p[at] < LEAVING_NAMED and good.from_confirming:
        said.append("The standard itself does not lie among its confirming pulls: can it be repeated?")
    said += (
        on_tolerances(measured, good) + _on_floors(good) + on_courses(good.fits, evidence.run, values.pulls)
    )
    if values.relay:
        said.append(
            "Sheets scanned more than once: no spread is taken to be below the scatter between their scans."
        )
    return tuple(said)
