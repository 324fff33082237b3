"""Which measures of which sheets leave the standard, with false discoveries bounded over the edition."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats, Mask
from proofkit.distributions import normal_exceeded
from proofkit.folder.edition import Tolerance
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE, adjusted
from proofkit.judgement.fit import Fit
from proofkit.judgement.good_pulls import GoodPulls, region_p
from proofkit.judgement.scales import CONTRASTS, is_worth_a_look
from proofkit.judgement.values import SHEET, Values

SHEET_RATE = 0.10
"""False discovery rate over the sheets that a sheet has to pass as well. [-] Wider than that of the findings, as a flag
has to pass both: on simulated editions 0 of 276 and 2 of 137 sound pulls were flagged with it."""

JOINT_WORTH = 0.5
"""Least share of the difference that matters in any measure of a group for the group to be told. [-]"""

ORDINARY_SPREADS = 3.0
"""Up to this far from the good pulls a value is one that they have too: only its own sheet makes it stand out. [-]"""

FOR_ITS_SHEET = ", for this sheet"
"""Added to the word of a region that differs from what the rest of its sheet leads one to expect, and from nothing
else."""

WEAK = frozenset(
    {
        "line_load_um",
        "fine_line_load_um",
        "broad_line_load_um",
        "line_width_um",
        "line_core_density",
        "line_continuity_fraction",
        *CONTRASTS,
    }
) - {"gaps_against_film"}
"""Measures of which a fall is called weak."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One row of the table `findings`."""

    pull: str
    region: str
    measure: str
    value: float
    standard_value: float
    spread: float
    deviation: float
    q_value: float
    """NaN when the printer's own tolerance decides."""
    direction: str


@dataclass(frozen=True, slots=True, eq=False)
class Tests:
    """Tests of one measure in one place, for all pulls."""

    fit: Fit
    region: str
    p: Floats
    value: Floats
    """(pulls,) as measured."""
    against_course: Floats
    """(pulls,) with the course of the run taken out: what is this pull's own."""
    centre: float
    standard_value: float
    spread: Floats
    """(pulls,) in the unit of the measure."""
    deviation: Floats
    """(pulls,) in spreads."""
    for_its_sheet: Mask
    """(pulls,) True where the value is one of good pulls, but not beside the rest of its sheet."""


def direction(measure: str, *, higher: bool) -> str:
    """Return `higher` or `lower`, with the trade's plain word where there is one."""
    if higher:
        return "higher"
    if measure in WEAK:
        return "lower (weak)"
    return "lower (overwiped)" if measure == "plate_tone_density" else "lower"


def _common(away: Floats) -> Floats:
    """Return (pulls,) medians over regions, NaN for a pull without any."""
    known = np.isfinite(away)
    return np.array(
        [np.median(row[has]) if has.any() else np.nan for row, has in zip(away, known, strict=True)]
    )


def in_units(fit: Fit, centre: float, spread: Floats) -> Floats:
    """Return spreads on the scale as standard deviations in the unit of the measure, at `centre`."""
    above = fit.column.natural(np.asarray(centre + spread))
    below = fit.column.natural(np.asarray(centre - spread))
    return np.asarray((above - below) / 2)


def sheet_tests(fit: Fit, raw: Floats) -> Tests:
    """Return the tests of what all regions of a sheet have in common; `raw` is (pulls, regions) as measured."""
    middle = float(np.nanmedian(fit.centre)) if np.isfinite(fit.centre).any() else float("nan")
    part = fit.sheet
    known = np.isfinite(fit.column.on_standard)
    standard = float(np.median(fit.column.on_standard[known])) if known.any() else float("nan")
    return Tests(
        fit=fit,
        region=SHEET,
        p=part.p[:, 0],
        value=fit.column.natural(middle + _common(raw - fit.centre)),
        against_course=fit.column.natural(middle + part.deviation[:, 0]),
        centre=float(fit.column.natural(np.array(middle))),
        standard_value=standard,
        spread=in_units(fit, middle, part.spread[:, 0]),
        deviation=part.deviation[:, 0] / part.spread[:, 0],
        for_its_sheet=np.zeros(len(part.p), dtype=bool),
    )


def _region_tests(fit: Fit, raw: Floats, p: Floats, index: int) -> Tests:
    centre = float(fit.centre[index])
    total, local = fit.total, fit.local
    total_z = total.deviation[:, index] / total.spread[:, index]
    local_z = local.deviation[:, index] / local.spread[:, index]
    by_local = np.nan_to_num(local.p[:, index], nan=2.0) < np.nan_to_num(total.p[:, index], nan=2.0)
    opposite = by_local & (np.sign(local_z) != np.sign(total_z))
    return Tests(
        fit=fit,
        region=fit.column.regions[index],
        p=np.where(opposite, 1.0, p[:, index]),
        value=fit.column.natural(raw[:, index]),
        against_course=fit.column.natural(fit.column.scaled[:, index]),
        centre=float(fit.column.natural(np.array(centre))),
        standard_value=float(fit.column.on_standard[index]),
        spread=in_units(fit, centre, np.where(by_local, local.spread[:, index], total.spread[:, index])),
        deviation=np.where(by_local, local_z, total_z),
        for_its_sheet=by_local & (np.abs(total_z) < ORDINARY_SPREADS),
    )


def _all_tests(values: Values, good: GoodPulls, tolerances: tuple[Tolerance, ...]) -> list[Tests]:
    """Return the tests that statistics decide; what the printer has set a tolerance for is left out."""
    own = {(tolerance.region, tolerance.measure) for tolerance in tolerances}
    tests: list[Tests] = []
    for name, fit in good.fits.items():
        if not fit.column.judged.finds or ("*", name) in own:
            continue
        raw = values.columns[name].scaled
        alone = len(fit.column.regions) == 1
        if not alone or fit.column.regions == (SHEET,):
            tests.append(sheet_tests(fit, raw))
        if fit.column.regions == (SHEET,):
            continue
        p = fit.total.p if alone else region_p(fit)
        tests.extend(
            _region_tests(fit, raw, p, index)
            for index, region in enumerate(fit.column.regions)
            if (region, name) not in own
        )
    return tests


def _joint_findings(values: Values, good: GoodPulls, q: Floats) -> list[Finding]:
    """Return pulls that leave the good ones in a group of measures together; `q` is (groups, pulls).

    One of the measures has to differ by half of what matters at least: a distance of trifles is none.
    """
    found: list[Finding] = []
    for row, (group, joint) in enumerate(good.joint.items()):
        for index in np.flatnonzero(q[row] <= FALSE_DISCOVERY_RATE):
            worth = [_share_of_worth(good.fits[name], int(index)) for name in joint.names]
            if max(worth) < JOINT_WORTH:
                continue
            size = float(np.sqrt(joint.squared[index]))
            found.append(
                Finding(
                    values.pulls[index], SHEET, group, size, 0.0, 1.0, float(normal_exceeded(joint.p[index] / 2)),
                    float(q[row, index]), "higher",
                )
            )  # fmt: skip
    return found


def _share_of_worth(fit: Fit, pull: int) -> float:
    """Return how far the sheet part differs, as a share of what matters."""
    deviation = float(fit.sheet.deviation[pull, 0])
    if not np.isfinite(deviation) or np.isnan(fit.centre).all():
        return 0.0
    middle = float(np.nanmedian(fit.centre))
    centre = float(fit.column.natural(np.array(middle)))
    change = float(fit.column.natural(np.array(middle + deviation))) - centre
    if fit.column.judged.scale == "log":
        change /= centre
    return abs(change) / fit.column.judged.matters


def find(
    values: Values, good: GoodPulls, standard: str, tolerances: tuple[Tolerance, ...]
) -> tuple[list[Finding], float]:
    """Return the findings and how many of them are expected to be chance.

    A finding needs three things: the false discovery rate over all tests of the edition holds with it, `SHEET_RATE`
    over the sheets holds with its sheet (else a pile with many true findings would let false ones in on sound
    sheets), and the difference is worth a look at all.

    Parameters
    ----------
    values : Values
        As measured.
    good : GoodPulls
        Fitted to the values with the courses of the run taken out.
    standard : str
        The pull that has no findings by definition.
    tolerances : tuple of Tolerance
        Measures that the printer judges by a limit of his own.

    Returns
    -------
    tuple
        Findings, and the expected number of false ones.
    """
    tests = _all_tests(values, good, tolerances)
    if not tests:
        return [], 0.0
    tested = np.array([pull != standard for pull in values.pulls], dtype=bool)
    singles = [np.where(tested, test.p, np.nan) for test in tests]
    p = np.stack([*singles, *(np.where(tested, joint.p, np.nan) for joint in good.joint.values())])
    q = adjusted(p.ravel()).reshape(p.shape)
    sheet_q = adjusted(np.where(tested, good.sheet_p, np.nan))
    q = np.maximum(q, sheet_q[None, :] * (FALSE_DISCOVERY_RATE / SHEET_RATE))
    found: list[Finding] = []
    for row, test in enumerate(tests):
        worth = is_worth_a_look(test.fit.column.judged, test.against_course, np.asarray(test.centre))
        for column in np.flatnonzero((q[row] <= FALSE_DISCOVERY_RATE) & worth):
            found.append(_finding(values.pulls[column], test, int(column), float(q[row, column])))
    found += _joint_findings(values, good, q[len(tests) :])
    expected = max((finding.q_value for finding in found), default=0.0) * len(found)
    return found, expected


def _finding(pull: str, test: Tests, index: int, q_value: float) -> Finding:
    measure = test.fit.column.judged.measure
    deviation = float(test.deviation[index])
    word = (
        ("higher" if deviation > 0 else "lower") + FOR_ITS_SHEET
        if test.for_its_sheet[index]
        else direction(measure, higher=deviation > 0)
    )
    return Finding(
        pull, test.region, measure, float(test.value[index]), test.standard_value, float(test.spread[index]),
        deviation, q_value, word,
    )  # fmt: skip


def in_reading_order(found: list[Finding], pulls: tuple[str, ...], watched: tuple[str, ...]) -> list[Finding]:
    """Return findings pull by pull, watched regions first, the farthest first, each place and measure once."""
    order = {pull: place for place, pull in enumerate(pulls)}
    found = sorted(
        found,
        key=lambda one: (order[one.pull], one.region not in watched, -abs(np.nan_to_num(one.deviation))),
    )
    return list({(one.pull, one.region, one.measure): one for one in reversed(found)}.values())[::-1]
