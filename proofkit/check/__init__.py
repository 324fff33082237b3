"""The main job: measure what is new in an edition, judge it, write results and report."""

from proofkit.check.run import CheckResult, check

__all__ = ["CheckResult", "check"]
