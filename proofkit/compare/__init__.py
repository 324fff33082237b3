"""Compare two states of a plate: what was added, burnished away, deepened or lightened."""

from proofkit.compare.run import compare

__all__ = ["compare"]
