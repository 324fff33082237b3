"""What judgement hands to figures, report and bench."""

from dataclasses import dataclass

import pandas as pd


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """An edition with its spread, findings and verdicts."""

    findings: pd.DataFrame
    """Table `findings` of columns.py."""
    judgement: pd.DataFrame
    """Table `judgement` of columns.py."""
    limits: pd.DataFrame
    """One row per region and measure: region, measure, centre, spread, lower, upper, standard_value, source
    (`confirming`, `edition`, `printer`), is_trial (few pulls, or no confirming ones)."""
    expected_false: float
    """How many of the findings are expected to be chance. [-]"""
    remarks: tuple[str, ...]
    """What limits the judgement, one sentence each: few pulls, no confirming ones, provisional standard, ..."""
