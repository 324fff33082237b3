"""Everything that a study found, before it is drawn and written."""

from dataclasses import dataclass

import pandas as pd

from proofkit.study.analysis import Analysis
from proofkit.study.experiment import Experiment
from proofkit.study.gradient import Tilt
from proofkit.study.observing import Observed
from proofkit.study.settings import StudySettings
from proofkit.study.strips import Comparison, Strip


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What went in and what came out."""

    experiment: Experiment
    settings: StudySettings
    observed: Observed
    table: pd.DataFrame
    """The observations that were asked about."""
    analysis: Analysis
    strips: tuple[Strip, ...]
    comparisons: tuple[Comparison, ...]
    tilts: tuple[tuple[str, Tilt], ...]
    """Plate and tilt."""
    remarks: tuple[str, ...]
    """What could not be answered, and what limits the rest, one sentence each."""
