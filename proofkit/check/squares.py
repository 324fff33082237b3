"""Squares of the laid scans of a pile, for pictures."""

from functools import lru_cache

from proofkit.arrays import Picture
from proofkit.check.measuring import MeasuredPile
from proofkit.edition import PlatePictures
from proofkit.errors import ScanError
from proofkit.folder.edition import Pull
from proofkit.folder.problems import quoted
from proofkit.scan.types import Scan, ScanFile, ToneCurve
from proofkit.sheet import opened_in_parts, part_picture, plate_picture, read_for_looking

SCANS_KEPT = 1
"""Scans kept in memory for pictures: whoever asks for pictures asks sheet by sheet, and a scan can fill half a GB."""

FILES_KEPT = 64
"""Scans of which is kept what they are like."""

SMALL_SHARE = 1 / 16
"""Share of the plate up to which a part of the scan is read for a picture, and not all of it."""


def pictures_of(pile: MeasuredPile) -> PlatePictures:
    """Return what gives squares of the laid scans of a pile.

    A scan that is in many strips or tiles is entered where a small square lies; asked sheet by sheet, any other is
    read once. A scan that is no longer the one that was measured raises ScanError in one line.
    """
    edition = pile.measured.edition
    small_mm2 = SMALL_SHARE * pile.measured.plate_width_mm * pile.measured.plate_height_mm
    pulls = {pull.pull: pull for pull in edition.pulls}

    @lru_cache(maxsize=SCANS_KEPT)
    def scan_of(pull: str) -> Scan:
        scan = read_for_looking(edition, pulls[pull])
        _check_measured(pile, pulls[pull], scan.file)
        return scan

    @lru_cache(maxsize=FILES_KEPT)
    def opened(pull: str) -> tuple[ScanFile, ToneCurve] | None:
        in_parts = opened_in_parts(edition, pulls[pull])
        if in_parts is not None:
            _check_measured(pile, pulls[pull], in_parts[0])
        return in_parts

    def picture(pull: str, box_mm: tuple[float, float, float, float], px_per_mm: float) -> Picture:
        x0, y0, x1, y1 = box_mm
        in_parts = opened(pull) if (x1 - x0) * (y1 - y0) < small_mm2 else None
        if in_parts is not None:
            return part_picture(in_parts, pile.results[pull], box_mm, px_per_mm)
        return plate_picture(scan_of(pull), pile.results[pull], box_mm, px_per_mm)

    return picture


def _check_measured(pile: MeasuredPile, pull: Pull, file: ScanFile) -> None:
    """Raise ScanError when a scan is another than the one that was measured: where it lay says nothing of it."""
    if file.sha256 != pile.results[pull.pull].sheet["sha256"]:
        raise ScanError(
            f"Scan {quoted(pull.scan)} was changed since it was measured. Run again when it is complete."
        )
