"""Which pulls the course of the run has carried away from the standard."""

import numpy as np

from proofkit.folder.edition import Tolerance
from proofkit.judgement.findings import Finding, direction, in_units, sheet_tests
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.in_order import Run, steps_of_change
from proofkit.judgement.values import SHEET, Values

TELLS_WEAR = frozenset(
    {
        "line_load_um",
        "line_width_um",
        "line_core_density",
        "fine_against_broad",
        "light_against_deep",
        "drypoint_against_rest",
    }
)
"""Of what the copper explains, the measures that are told of a sheet; the others say the same once more."""


def course_findings(
    values: Values, good: GoodPulls, run: Run, standard: str, tolerances: tuple[Tolerance, ...]
) -> list[Finding]:
    """Return the pulls at which the course of a measure has left the standard by what matters.

    Parameters
    ----------
    values : Values
    good : GoodPulls
    run : Run
    standard : str
        The pull that has no findings by definition.
    tolerances : tuple of Tolerance
        Measures that the printer judges by a limit of his own.

    Returns
    -------
    list of Finding
        For the sheet as a whole; q_value is the rate at which courses were believed over all measures.
    """
    own = {tolerance.measure for tolerance in tolerances if tolerance.region == "*"}
    found: list[Finding] = []
    for name, course in run.courses.items():
        fit = good.fits[name]
        judged = fit.column.judged
        is_told = name not in run.explained or name in TELLS_WEAR
        is_distance = judged.against_standard and judged.sides == "upper"
        if not (course.is_believed and judged.finds and is_told) or is_distance or name in own:
            continue
        test = sheet_tests(fit, values.columns[name].scaled)
        middle = float(np.nanmedian(fit.centre))
        value = fit.column.natural(middle + course.change)
        size = steps_of_change(judged, course.change)
        worth = {"both": np.abs(size) >= 1, "upper": size >= 1, "lower": size <= -1}[judged.sides]
        found.extend(
            Finding(
                pull, SHEET, name, float(value[index]), test.standard_value,
                float(in_units(fit, middle, np.array(fit.sheet_spread))),
                float(course.change[index]) / fit.sheet_spread, course.q,
                direction(name, higher=bool(course.change[index] > 0)),
            )
            for index, pull in enumerate(values.pulls)
            if worth[index] and pull != standard
        )  # fmt: skip
    return found
