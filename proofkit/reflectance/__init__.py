"""From codes to reflectance: tone curves, bare paper, lightness and colour."""

from proofkit.reflectance.curves import tone_curve
from proofkit.reflectance.paper import find_light, find_paper, paper_level
from proofkit.reflectance.sheet import find_sheet, rough_paper
from proofkit.reflectance.types import Paper

__all__ = ["Paper", "find_light", "find_paper", "find_sheet", "paper_level", "rough_paper", "tone_curve"]
