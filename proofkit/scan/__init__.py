"""Scan files: open and check them, read them into one linear plane, look at codes of a small box."""

from proofkit.scan.opening import check_ppi, open_scan
from proofkit.scan.reading import read_codes, read_scan
from proofkit.scan.types import Scan, ScanFile, ToneCurve

__all__ = ["Scan", "ScanFile", "ToneCurve", "check_ppi", "open_scan", "read_codes", "read_scan"]
