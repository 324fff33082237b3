"""Simulated pulls of a simulated plate, with the truth about what was planted in them.

``make_plate`` draws a plate, ``ordinary_pull`` and ``Fault`` say how a sheet is printed, ``render`` scans it,
``make_edition`` writes a whole folder. ``python -m tests.simulate`` remakes the sample edition.
"""

from tests.simulate.folder import EditionText, ScanKind, make_edition, to_codes, write_scan
from tests.simulate.hand import Fault, Pull, ordinary_pull
from tests.simulate.mapping import Crease, to_px
from tests.simulate.plate import Plate, PlateRegion, Stroke
from tests.simulate.plates import make_plate
from tests.simulate.render import Rendered, render
from tests.simulate.truth import grid_truth, region_truth, sheet_truth

__all__ = [
    "Crease", "EditionText", "Fault", "Plate", "PlateRegion", "Pull", "Rendered", "ScanKind", "Stroke", "grid_truth",
    "make_edition", "make_plate", "ordinary_pull", "region_truth", "render", "sheet_truth", "to_codes", "to_px",
    "write_scan",
]  # fmt: skip
