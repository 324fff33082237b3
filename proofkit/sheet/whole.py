"""What is found on the whole of a laid sheet, one thing after the other or side by side."""

from dataclasses import dataclass, field

import numpy as np

from proofkit.arrays import Ink, Picture, Points
from proofkit.edition import TONE_PITCH_MM
from proofkit.laying.pitch import doubtful_fields
from proofkit.laying.rectify import plate_box
from proofkit.measures.colour import SheetColour, sheet_colour
from proofkit.measures.crease import Crease, find_crease
from proofkit.measures.fine_picture import fine_picture
from proofkit.measures.ghost import Ghost, find_ghost
from proofkit.measures.raster import reflectance_picture
from proofkit.measures.set_off import NO_GHOST, SetOff, find_set_off
from proofkit.measures.types import LaidSheet
from proofkit.sheet.types import Standard
from proofkit.threads import each_in_order


@dataclass(slots=True, eq=False)
class WholeSheet:
    """What is looked for on the whole of a sheet, whatever its regions."""

    doubtful_mm: Points = field(default_factory=lambda: np.empty((0, 2)))
    """(n, 2) middles of fields of hatching that may be matched one line off. [mm]"""
    ghost: Ghost | None = None
    crease: Crease | None = None
    set_off: SetOff = NO_GHOST
    colour: SheetColour | None = None
    """None on the standard."""
    tone_picture: Picture = field(default_factory=lambda: np.empty((0, 0), dtype=np.float32))
    """Coarse picture of R/Rp."""
    fine: Ink | None = None
    """Fine picture, see `fine_picture`."""


def look_at_whole(laid: LaidSheet, standard: Standard, solid: float) -> WholeSheet:
    """Return what is found on the whole sheet.

    Parameters
    ----------
    laid : LaidSheet
    standard : Standard
        Of a sheet that is the standard itself only the pictures are made.
    solid : float
        R/Rp of solid ink on the sheet. [-]
    """
    found = WholeSheet()
    size = standard.plate_width_mm, standard.plate_height_mm
    scan, paper, laying = laid.scan, laid.paper, laid.laying

    def doubt() -> None:
        found.doubtful_mm = doubtful_fields(
            laying, scan.plane, paper.luminance, standard.pictures, standard.lines
        )

    def ghost() -> None:
        found.ghost = find_ghost(laid, standard.ghost)

    def crease() -> None:
        found.crease = find_crease(laid, standard.pictures)

    def set_off() -> None:
        found.set_off = find_set_off(laid, standard.pictures)

    def colour() -> None:
        found.colour = sheet_colour(laid, standard.records, standard.lines, solid)

    def tone() -> None:
        found.tone_picture = reflectance_picture(scan, paper, laying, plate_box(*size, TONE_PITCH_MM))

    def fine() -> None:
        found.fine = fine_picture(scan, paper, laying, size)

    tasks = (tone, fine) if laid is standard.laid else (doubt, crease, set_off, fine, tone, ghost, colour)
    each_in_order(lambda task: task(), tasks)
    return found
