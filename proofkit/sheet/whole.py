"""What is found on the whole of a laid sheet, beside what its regions say."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, cast

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


@dataclass(frozen=True, slots=True, eq=False)
class WholeSheet:
    """What is looked for on the whole of a sheet, whatever its regions."""

    tone_picture: Picture
    """Coarse picture of R/Rp."""
    fine: Ink
    """Fine picture, see `fine_picture`."""
    doubtful_mm: Points = field(default_factory=lambda: np.empty((0, 2)))
    """(n, 2) middles of fields of hatching that may be matched one line off. [mm]"""
    ghost: Ghost | None = None
    crease: Crease | None = None
    set_off: SetOff = NO_GHOST
    colour: SheetColour | None = None
    """None on the standard."""


def whole_jobs(laid: LaidSheet, standard: Standard, solid: float) -> dict[str, Callable[[], object]]:
    """Return what is to be done on the whole sheet, by the names under which `whole_of` takes the results.

    Parameters
    ----------
    laid : LaidSheet
    standard : Standard
        Of a sheet that is the standard itself only the pictures are made.
    solid : float
        R/Rp of solid ink on the sheet. [-]
    """
    size = standard.plate_width_mm, standard.plate_height_mm
    scan, paper, laying = laid.scan, laid.paper, laid.laying

    def pictures() -> WholeSheet:
        tone = reflectance_picture(scan, paper, laying, plate_box(*size, TONE_PITCH_MM))
        return WholeSheet(tone, fine_picture(scan, paper, laying, size))

    if laid is standard.laid:
        return {"pictures": pictures}
    pictures_of, lines = standard.pictures, standard.lines
    return {
        "pictures": pictures,
        "crease": lambda: find_crease(laid, pictures_of),
        "set_off": lambda: find_set_off(laid, pictures_of),
        "doubtful_mm": lambda: doubtful_fields(laying, scan.levels, paper.luminance, pictures_of, lines),
        "ghost": lambda: find_ghost(laid, standard.ghost),
        "colour": lambda: sheet_colour(laid, standard.records, lines, solid),
    }


def whole_of(done: dict[str, object]) -> WholeSheet:
    """Return what was found on the whole sheet, from the results of `whole_jobs`."""
    found = dict(done)
    return replace(cast("WholeSheet", found.pop("pictures")), **cast("dict[str, Any]", found))
