"""Choose the standard: lay trial proofs side by side, and record the artist's signature."""

from proofkit.choosing.run import ChoiceResult, choose
from proofkit.choosing.signing import sign_standard

__all__ = ["ChoiceResult", "choose", "sign_standard"]
