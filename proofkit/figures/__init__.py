"""Charts of a measured edition: tables in, figures out."""

from proofkit.figures.consistency import consistency
from proofkit.figures.deviation import deviation_map
from proofkit.figures.sheets import stretch_and_misfit
from proofkit.figures.tone import tone_distributions

__all__ = ["consistency", "deviation_map", "stretch_and_misfit", "tone_distributions"]
