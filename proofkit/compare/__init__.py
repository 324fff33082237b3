"""Compare two states of a plate, or a print with its drawing."""

from proofkit.compare.drawing import compare_with_drawing
from proofkit.compare.run import compare

__all__ = ["compare", "compare_with_drawing"]
