"""The command line."""

import os

# Sheets run side by side, and what they solve is small: threads of the linear algebra would only wait for each other,
# at ten times the processor time where other work goes on. It is read when numpy is first loaded, so before the
# commands are; programs that import proofkit keep their own setting, but while something is measured.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from proofkit.cli.commands import main

__all__ = ["main"]
