"""Spread, findings, causes and verdicts: from the tables of a measured edition to a judgement."""
