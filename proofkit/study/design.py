"""From the table of an experiment to the columns of a model."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from proofkit.arrays import Floats, Index
from proofkit.study.experiment import Factor

REGION = "region"
"""Block that rows of several regions are set against: regions differ whatever the setting."""


@dataclass(frozen=True, slots=True)
class Term:
    """One column of a design."""

    name: str
    """For people: factor, level or change."""
    factor: str
    """Name of the factor, of both with a colon for an interaction, empty for intercept and blocks."""
    step: str
    """What the coefficient is the effect of: `per min`, `per doubling`, `palm against cloth`."""
    reach: float
    """By how many steps the experiment varied it; 1 for levels."""


@dataclass(frozen=True, slots=True, eq=False)
class Design:
    """Columns of a model with what they mean."""

    terms: tuple[Term, ...]
    columns: Floats
    """(n, k), the intercept first."""

    def places(self, factor: str) -> list[int]:
        """Return the columns of a factor."""
        return [place for place, term in enumerate(self.terms) if term.factor == factor]


def build_design(
    table: pd.DataFrame,
    factors: Sequence[Factor],
    interactions: Sequence[tuple[str, str]] = (),
    block: Sequence[str] | None = None,
) -> Design:
    """Return the design of rows with known settings.

    Parameters
    ----------
    table : DataFrame
        One column a factor.
    factors : sequence of Factor
        Those that vary in these rows.
    interactions : sequence of pairs of str
        Factors whose joint effect is asked for; pairs that name others are left out.
    block : sequence of str, optional
        Region of each row, where rows of several regions are fitted together and settings do not go with the region.

    Notes
    -----
    Numbers are centred on their mean, so that the intercept is the response at the middle of the experiment and main
    effects mean the same with and without interactions.
    """
    terms = [Term("mean", "", "", 1.0)]
    columns = [np.ones(len(table))]
    parts: dict[str, list[tuple[Term, Floats]]] = {}
    for factor in factors:
        parts[factor.name] = _columns(table[factor.name], factor)
    for first, second in interactions:
        if first in parts and second in parts:
            parts[f"{first}:{second}"] = [
                (
                    Term(f"{a.name} x {b.name}", f"{first}:{second}", _joint_step(a, b), a.reach * b.reach),
                    x * y,
                )
                for a, x in parts[first]
                for b, y in parts[second]
            ]
    if block is not None:
        parts[REGION] = _blocks(block)
    for columns_of in parts.values():
        for term, values in columns_of:
            terms.append(term)
            columns.append(values)
    return Design(tuple(terms), np.stack(columns, axis=1))


def _columns(values: pd.Series, factor: Factor) -> list[tuple[Term, Floats]]:
    if factor.kind == "number":
        numbers = values.to_numpy(dtype=np.float64)
        if factor.scale == "log":
            numbers = np.log2(numbers)
        step = (
            "per doubling" if factor.scale == "log" else f"per {factor.unit}" if factor.unit else "per unit"
        )
        term = Term(factor.label, factor.name, step, float(np.ptp(numbers)))
        return [(term, np.asarray(numbers - numbers.mean()))]
    present = set(values)
    levels = [level for level in factor.levels if level in present]
    return [
        (
            Term(f"{factor.label}: {level}", factor.name, f"against {levels[0]}", 1.0),
            np.asarray(values == level, dtype=np.float64),
        )
        for level in levels[1:]
    ]


def _joint_step(first: Term, second: Term) -> str:
    return f"{first.step} and {second.step}"


def _blocks(names: Sequence[str]) -> list[tuple[Term, Floats]]:
    """Return contrasts of regions against the first, centred so that they leave the mean alone."""
    levels = list(dict.fromkeys(names))
    found = []
    for level in levels[1:]:
        values = np.array([name == level for name in names], dtype=np.float64)
        found.append(
            (Term(f"region {level}", "", f"against {levels[0]}", 1.0), np.asarray(values - values.mean()))
        )
    return found


def groups_of(table: pd.DataFrame, columns: Sequence[str]) -> Index:
    """Return the group of each row: rows alike in `columns` share it."""
    if not columns:
        return np.zeros(len(table), dtype=np.intp)
    return np.asarray(table.groupby(list(columns), sort=False).ngroup(), dtype=np.intp)
