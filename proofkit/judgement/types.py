"""What judgement hands to figures, report and bench."""

from dataclasses import dataclass, field

import pandas as pd

from proofkit.judgement.power import POWER_COLUMNS
from proofkit.judgement.running_table import COURSE_COLUMNS, RUNNING_COLUMNS


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """An edition with its spread, findings and verdicts."""

    findings: pd.DataFrame
    """Table `findings` of `proofkit.columns`."""
    judgement: pd.DataFrame
    """Table `judgement` of `proofkit.columns`."""
    limits: pd.DataFrame
    """One row per region and measure: region, measure, centre, spread, lower, upper, standard_value, source
    (`confirming`, `edition`, `printer`), is_trial (few pulls, or no confirming ones)."""
    expected_false: float
    """How many of the findings are expected to be chance. [-]"""
    remarks: tuple[str, ...]
    """What limits the judgement, one sentence each: few pulls, no confirming ones, provisional standard, ..."""
    running: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(RUNNING_COLUMNS)))
    """Running means of the main measures; see `running_table`."""
    courses: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(COURSE_COLUMNS)))
    """Measures that drift or step over the run; see `courses_table`."""
    power: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(POWER_COLUMNS)))
    """Smallest change of each kind that would be flagged nine times in ten; see `power_table`."""
