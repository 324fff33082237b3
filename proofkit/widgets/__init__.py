"""The bench: panels for JupyterLab."""

from proofkit.widgets.check_panel import CheckPanel, check_panel

__all__ = ["CheckPanel", "check_panel"]
