"""One sheet from its scan file to its rows of the tables."""

from proofkit.sheet.measuring import measure_sheet
from proofkit.sheet.picture import (
    central_pull,
    opened_in_parts,
    part_picture,
    plate_picture,
    read_for_looking,
)
from proofkit.sheet.standard import make_standard, without_scan
from proofkit.sheet.types import SheetResult, Standard

__all__ = [
    "SheetResult",
    "Standard",
    "central_pull",
    "make_standard",
    "measure_sheet",
    "opened_in_parts",
    "part_picture",
    "plate_picture",
    "read_for_looking",
    "without_scan",
]
