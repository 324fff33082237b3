"""A sheet as it is looked at: its pyramid, and how millimetres lie on it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from proofkit.errors import ScanError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.laying.start import laying_of_corners
from proofkit.laying.types import Laying
from proofkit.pyramid import Pyramid, open_pyramid
from proofkit.reflectance.types import Paper
from proofkit.sheet.reading import read_sheet
from proofkit.sheet.standard import plate_corners, plate_size
from proofkit.sheet.types import SheetResult
from proofkit.units import px_per_mm

Kind = Literal["standard", "plate mark", "scan"]
"""Whose millimetres are meant: plate mm by the laying on the standard, plate mm by the sheet's own plate mark,
or mm of the scan."""


@dataclass(frozen=True, slots=True, eq=False)
class Sight:
    """A sheet that can be looked at."""

    pull: str
    pyramid: Pyramid
    laying: Laying
    """mm -> pixels of the upright scan."""
    paper: Paper | None
    """None when the bare paper is not known: reflectance is then told against the scanner's white."""
    kind: Kind
    width_mm: float
    """Of the plate, or of the scan when no plate is known."""
    height_mm: float

    @property
    def scan_px_per_mm(self) -> float:
        """Scan pixels to a millimetre, mean of both directions."""
        return self.laying.px_per_mm


def laid_sight(
    edition: Edition, pull: Pull, beside: Path, result: SheetResult, size_mm: tuple[float, float]
) -> Sight:
    """Return a measured sheet as it lies on the standard.

    Parameters
    ----------
    edition, pull
        Whose scan it is.
    beside : Path
        Folder of the ledger, where pyramids are kept.
    result : SheetResult
    size_mm : tuple of float
        Width and height of the plate. [mm]

    Raises
    ------
    ScanError, CalibrationError
        If the scan can no longer be read, or is another than the one that was measured.
    """
    pyramid = open_pyramid(edition, pull, beside)
    if pyramid.sha256 != result.sheet["sha256"]:
        raise ScanError(
            f"Scan {quoted(pull.scan)} was changed since it was measured. Check the edition again to see it."
        )
    return Sight(pull.pull, pyramid, result.laying, result.paper, "standard", *size_mm)


def marked_sight(edition: Edition, pull: Pull, beside: Path) -> Sight:
    """Return a sheet in plate mm by its own plate mark, as the standard is laid before anything is measured.

    Raises
    ------
    ProofkitError
        If the scan cannot be read, or shows neither plate mark nor paper.
    """
    pyramid = open_pyramid(edition, pull, beside)
    read = read_sheet(edition, pull)
    corners, _ = plate_corners(read)
    size_mm = plate_size(edition, corners, read.scan)
    return Sight(pull.pull, pyramid, laying_of_corners(corners, *size_mm), read.paper, "plate mark", *size_mm)


def plain_sight(edition: Edition, pull: Pull, beside: Path) -> Sight:
    """Return a scan in its own millimetres, from its top left corner.

    Raises
    ------
    ScanError, CalibrationError
        If the scan cannot be read.
    """
    pyramid = open_pyramid(edition, pull, beside)
    along, down = px_per_mm(pyramid.ppi_x), px_per_mm(pyramid.ppi_y)
    affine = np.array([[along, 0.0, -0.5], [0.0, down, -0.5]])
    laying = Laying(
        affine, np.zeros((4, 4, 2)), 1e6, 1.0, 1.0, 0.0, 0.0, mirrored=False, misfit_um=float("nan")
    )
    return Sight(pull.pull, pyramid, laying, None, "scan", pyramid.width / along, pyramid.height / down)
