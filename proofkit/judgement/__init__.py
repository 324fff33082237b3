"""judgement."""
