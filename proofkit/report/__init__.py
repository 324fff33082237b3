"""The report of an edition: one HTML file, readable offline and on paper."""

from proofkit.report.page import write_report

__all__ = ["write_report"]
