"""Judgement: spread, findings, causes, verdicts."""
