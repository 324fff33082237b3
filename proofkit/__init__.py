"""Proof analysis for intaglio editions: measure scanned impressions and see which leave the standard."""

import os

__version__ = "0.1.0"

# Sheets run side by side, and what they solve is small: threads of the linear algebra would only wait for each other,
# at ten times the processor time where other work goes on. It is read when numpy is first loaded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
