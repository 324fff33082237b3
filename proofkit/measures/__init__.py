"""Measures of a laid sheet: lines, tone, plate tone and marks, region by region."""
