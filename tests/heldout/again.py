"""One printed sheet laid on the scanner again and again: the same ink and paper under another turn, place and noise.

A print is drawn once, finer than any scan of it and without the scanner's blur. Each scan then blurs that picture as
optics do, turns and shifts it, and sums it over square pixels.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from tests.heldout.geometry import SheetMap, random_map
from tests.heldout.ink import Impression, Recipe
from tests.heldout.plate import Plate
from tests.heldout.scanner import Capture, Floats32, write_scan
from tests.heldout.sheet import Stock, draw_sheet

FINER = 3
"""Pixels of a print along the side of one of a scan."""

DRAWN_PX = 0.4
"""Blur that drawing a print needs, of its own pixels; the optics give that much less. [px]"""

TURN_DEG, SHIFT_PX = 1.0, 3.0
"""Sheets are laid down again within so much to both sides (choice of ours). [deg], [px]"""


@dataclass(frozen=True, slots=True, eq=False)
class Printed:
    """One print, before it is scanned."""

    light: Floats32
    """(h, w) linear luminance against the scanner's white, `FINER` times as fine as its scans. [-]"""
    level: float
    """Of its bare paper. [-]"""
    lies: SheetMap
    """Plate mm to its pixels."""


def print_sheet(
    plate: Plate, recipe: Recipe, pull: Impression, stock: Stock, ppi: int, rng: np.random.Generator
) -> Printed:
    """Return a print of a pull on a new piece of paper: its grain, ragged edges and uneven stretch are its own.

    As a whole all pieces shrink alike: a blur of the scan is wider in mm of the plate on a sheet that shrank more.
    """
    per_mm = FINER * ppi / 25.4
    lies, size = random_map(rng, (plate.width_mm, plate.height_mm), per_mm, (1.0, 1.0))
    left, _, right = np.linalg.svd(lies.affine[:, :2])
    lies = replace(lies, affine=np.column_stack((per_mm * left @ right, lies.affine[:, 2])))
    light = draw_sheet(plate, recipe, pull, lies, size, stock, (per_mm, DRAWN_PX), rng)
    return Printed(light, stock.level, lies)


def scan_again(
    path: Path, printed: Printed, capture: Capture, rng: np.random.Generator, curve_error: float = 0.0
) -> None:
    """Write a scan of a print, laid down at random.

    Parameters
    ----------
    path : Path
    printed : Printed
    capture : Capture
    rng : Generator
        Of how it lies and of the noise.
    curve_error : float
        Relative error of all densities, by a tone curve that is not quite the stated one. [-]
    """
    fine = FINER * capture.ppi / 25.4
    optics_px = capture.blur_um / 1000 * fine
    light = cv2.GaussianBlur(printed.light, (0, 0), float(np.sqrt(optics_px**2 - DRAWN_PX**2)))
    height, width = light.shape
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), rng.uniform(-TURN_DEG, TURN_DEG), 1.0)
    turn[:, 2] += FINER * rng.uniform(-SHIFT_PX, SHIFT_PX, 2)
    size = FINER * (width // FINER), FINER * (height // FINER)
    light = cv2.warpAffine(light, turn, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT)
    light = cv2.resize(light, (size[0] // FINER, size[1] // FINER), interpolation=cv2.INTER_AREA)
    # Densities above the scanner's white err, as those of a curve do; the margin's level goes with them.
    np.power(np.clip(light, 1e-4, 1), 1 + curve_error, out=light)
    cv2.setRNGSeed(int(rng.integers(1, 2**31)))
    papers = (1.0,) if capture.channels == 1 else (1.03, 1.0, 0.9)
    write_scan(path, light, capture, [(paper, 1.0) for paper in papers])
