"""The bench: panels for JupyterLab."""

from proofkit.widgets.bench import Bench, bench
from proofkit.widgets.opening import edition_for

__all__ = ["Bench", "bench", "edition_for"]
