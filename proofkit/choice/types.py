"""What is said of trial proofs."""

from dataclasses import dataclass

import pandas as pd

from proofkit.arrays import Floats
from proofkit.choice.words import Aim
from proofkit.folder.wishes import Wish


@dataclass(frozen=True, slots=True, eq=False)
class Granted:
    """How far each candidate grants one wish."""

    wish: Wish
    aim: Aim
    limits: tuple[float, float, float]
    """low, best, high that were applied; NaN where there is none. [as the measure]"""
    measured: Floats
    """(candidates,) of the measure; NaN = could not be measured."""
    uncertainties: Floats
    """(candidates,) standard uncertainties; NaN = not stated."""
    granted: Floats
    """(candidates,) 0 to 1; NaN = cannot be told."""
    low: Floats
    """(candidates,) the same at the less favourable end of two standard uncertainties."""
    high: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Trial proofs beside each other."""

    candidates: tuple[str, ...]
    """In order of printing."""
    wishes: tuple[Granted, ...]
    table: pd.DataFrame
    """Table `choice_candidates`."""
    granted: pd.DataFrame
    """Table `choice_wishes`."""
    differences: pd.DataFrame
    """Table `choice_differences`."""
    remarks: tuple[str, ...]
    """What limits the choice, one sentence each."""
