"""Centrelines of the standard: found once by their ridges, then matched on every other sheet."""
