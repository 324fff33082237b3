"""Proof analysis for intaglio editions: measure scanned impressions and see which leave the standard."""

__version__ = "0.1.0"
