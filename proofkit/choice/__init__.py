"""Trial proofs beside each other: what each grants of the artist's wishes, and which can be pulled again."""

from proofkit.choice.types import Choice, Granted
from proofkit.choice.weigh import weigh_candidates

__all__ = ["Choice", "Granted", "weigh_candidates"]
