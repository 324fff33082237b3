"""Which measures of which sheets leave the standard, with false discoveries bounded over the edition."""

from dataclasses import dataclass

import numpy as np

from proofkit.arrays import Floats
from proofkit.folder.edition import Tolerance
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE, adjusted
from proofkit.judgement.fit import Fit
from proofkit.judgement.good_pulls import GoodPulls, region_p
from proofkit.judgement.scales import CONTRASTS, is_worth_a_look
from proofkit.judgement.values import SHEET, Values

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
class _Tests:
    """Tests of one measure in one place, for all pulls."""

    fit: Fit
    region: str
    p: Floats
    value: Floats
    centre: float
    standard_value: float
    spread: Floats
    """(pulls,) in the unit of the measure."""
    deviation: Floats
    """(pulls,) in spreads."""


def direction(measure: str, *, higher: bool) -> str:
    """Return `higher` or `lower`, with the trade's plain word where there is one."""
    if higher:
        return "higher"
    if measure in WEAK:
        return "lower (weak)"
    return "lower (overwiped)" if measure == "plate_tone_density" else "lower"


def in_units(fit: Fit, centre: float, spread: Floats) -> Floats:
    """Return spreads on the scale as standard deviations in the unit of the measure, at `centre`."""
    above = fit.column.natural(np.asarray(centre + spread))
    below = fit.column.natural(np.asarray(centre - spread))
    return np.asarray((above - below) / 2)


def _sheet_tests(fit: Fit) -> _Tests:
    middle = float(np.nanmedian(fit.centre)) if np.isfinite(fit.centre).any() else float("nan")
    part = fit.sheet
    known = np.isfinite(fit.column.on_standard)
    standard = float(np.median(fit.column.on_standard[known])) if known.any() else float("nan")
    return _Tests(
        fit=fit,
        region=SHEET,
        p=part.p[:, 0],
        value=fit.column.natural(middle + part.deviation[:, 0]),
        centre=float(fit.column.natural(np.array(middle))),
        standard_value=standard,
        spread=in_units(fit, middle, part.spread[:, 0]),
        deviation=part.deviation[:, 0] / part.spread[:, 0],
    )


def _region_tests(fit: Fit, p: Floats, index: int) -> _Tests:
    centre = float(fit.centre[index])
    total, local = fit.total, fit.local
    total_z = total.deviation[:, index] / total.spread[:, index]
    local_z = local.deviation[:, index] / local.spread[:, index]
    by_local = np.nan_to_num(local.p[:, index], nan=2.0) < np.nan_to_num(total.p[:, index], nan=2.0)
    opposite = by_local & (np.sign(local_z) != np.sign(total_z))
    return _Tests(
        fit=fit,
        region=fit.column.regions[index],
        p=np.where(opposite, 1.0, p[:, index]),
        value=fit.column.natural(fit.column.scaled[:, index]),
        centre=float(fit.column.natural(np.array(centre))),
        standard_value=float(fit.column.on_standard[index]),
        spread=in_units(fit, centre, np.where(by_local, local.spread[:, index], total.spread[:, index])),
        deviation=np.where(by_local, local_z, total_z),
    )


def _all_tests(good: GoodPulls, tolerances: tuple[Tolerance, ...]) -> list[_Tests]:
    """Return the tests that statistics decide; what the printer has set a tolerance for is left out."""
    own = {(tolerance.region, tolerance.measure) for tolerance in tolerances}
    tests: list[_Tests] = []
    for name, fit in good.fits.items():
        if not fit.column.judged.finds or ("*", name) in own:
            continue
        alone = len(fit.column.regions) == 1
        if not alone or fit.column.regions == (SHEET,):
            tests.append(_sheet_tests(fit))
        if fit.column.regions == (SHEET,):
            continue
        p = fit.total.p if alone else region_p(fit)
        tests.extend(
            _region_tests(fit, p, index)
            for index, region in enumerate(fit.column.regions)
            if (region, name) not in own
        )
    return tests


def find(
    values: Values, good: GoodPulls, standard: str, tolerances: tuple[Tolerance, ...]
) -> tuple[list[Finding], float]:
    """Return the findings and how many of them are expected to be chance.

    A finding needs three things: the false discovery rate over all tests of the edition holds with it, the same rate
    over the sheets holds with its sheet (else a pile with many true findings would let false ones in on sound
    sheets), and the difference is worth a look at all.

    Parameters
    ----------
    values : Values
    good : GoodPulls
    standard : str
        The pull that has no findings by definition.
    tolerances : tuple of Tolerance
        Measures that the printer judges by a limit of his own.

    Returns
    -------
    tuple
        Findings, farthest first within a pull, and the expected number of false ones.
    """
    tests = _all_tests(good, tolerances)
    if not tests:
        return [], 0.0
    tested = np.array([pull != standard for pull in values.pulls], dtype=bool)
    p = np.stack([np.where(tested, test.p, np.nan) for test in tests])
    q = adjusted(p.ravel()).reshape(p.shape)
    sheet_q = adjusted(np.where(tested, good.sheet_p, np.nan))
    q = np.maximum(q, sheet_q[None, :])
    found: list[Finding] = []
    for row, test in enumerate(tests):
        worth = is_worth_a_look(test.fit.column.judged, test.value, np.asarray(test.centre))
        for column in np.flatnonzero((q[row] <= FALSE_DISCOVERY_RATE) & worth):
            found.append(_finding(values.pulls[column], test, int(column), float(q[row, column])))
    expected = max((finding.q_value for finding in found), default=0.0) * len(found)
    order = {pull: place for place, pull in enumerate(values.pulls)}
    found.sort(key=lambda finding: (order[finding.pull], -abs(finding.deviation)))
    return found, expected


def _finding(pull: str, test: _Tests, index: int, q_value: float) -> Finding:
    measure = test.fit.column.judged.measure
    deviation = float(test.deviation[index])
    return Finding(
        pull, test.region, measure, float(test.value[index]), test.standard_value, float(test.spread[index]),
        deviation, q_value, direction(measure, higher=deviation > 0),
    )  # fmt: skip
