"""What is known of a sheet that shows something else than the standard: its scan and its paper."""

import numpy as np

from proofkit.arrays import INK_SCALE, INK_ZERO, Ink, Points
from proofkit.folder.edition import Pull
from proofkit.laying.ink import ink_cells
from proofkit.laying.rectify import plate_box
from proofkit.laying.reference import PITCHES_MM
from proofkit.laying.start import laying_of_corners
from proofkit.quality import Quality, words
from proofkit.sheet.reading import ReadSheet
from proofkit.sheet.types import SheetResult, Standard
from proofkit.units import density, px_per_mm

INKED = 0.08
"""Cells of 0.4 mm this much darker than the paper hold ink; a lamp's falloff and the texture of paper keep below it
(common practice). 1 - R/Rp. [-]"""

BLANK_MOST = 0.02
"""A sheet with less than this share of the standard's inked area is blank: dust and a pencilled number are no print.
Choice of ours. [-]"""

EDGE_MM = 1.5
"""Cells this close to the plate mark, or to the border of the scan, are emboss shade and backing. [mm]"""


def unlaid_sheet(read: ReadSheet, pull: Pull, standard: Standard, why: str) -> SheetResult:
    """Return a sheet that could not be laid: one row of `sheets`, and nothing measured.

    Parameters
    ----------
    read : ReadSheet
    pull : Pull
    standard : Standard
    why : str
        Why it could not be laid, in one line.

    Returns
    -------
    SheetResult
        Flagged `blank` or `other plate`. Its laying is that of the corners alone, and says nothing.
    """
    file, paper = read.scan.file, read.paper
    corners = _corners(read)
    size = _size_mm(read, corners)
    flag = Quality.BLANK if is_blank(read, standard) else Quality.OTHER_PLATE
    return SheetResult(
        sheet={
            "pull": pull.pull,
            "scan": pull.scan,
            "sha256": file.sha256,
            "curve": read.scan.curve,
            "ppi_x": file.ppi_x,
            "ppi_y": file.ppi_y,
            "bits": float(file.bits),
            "mirrored": False,
            "noise_fraction": paper.noise,
            "paper_density": float(density(paper.luminance)),
            "paper_a": paper.lab[1],
            "paper_b": paper.lab[2],
            "quality": words(read.quality | flag),
        },
        rows=[],
        histograms={},
        tone_picture=np.zeros((0, 0), dtype=np.float32),
        laying=laying_of_corners(corners, *size),
        paper=paper,
        corners_px=corners,
        not_laid=why,
    )


def is_blank(read: ReadSheet, standard: Standard) -> bool:
    """Return whether a sheet holds next to no ink, by the area of it on the standard."""
    corners = _corners(read)
    box = plate_box(*(size := _size_mm(read, corners)), PITCHES_MM[0])
    ink, _ = ink_cells(read.scan.levels, laying_of_corners(corners, *size), box, read.paper.luminance)
    return _inked(ink) < BLANK_MOST * _inked(standard.pictures.levels[0])


def _inked(ink: Ink) -> int:
    """Return the inked cells of a picture at the coarsest pitch, off its edges."""
    edge = round(EDGE_MM / PITCHES_MM[0])
    return int(np.count_nonzero(ink[edge:-edge, edge:-edge] > INK_ZERO + INK_SCALE * INKED))


def _corners(read: ReadSheet) -> Points:
    """Return the corners of the plate mark, of the whole scan where none was found. (4, 2) [px]"""
    if read.frame is not None:
        return read.frame.corners_px
    w, h = read.scan.file.width - 1.0, read.scan.file.height - 1.0
    return np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)])


def _size_mm(read: ReadSheet, corners: Points) -> tuple[float, float]:
    file = read.scan.file
    sides = (np.roll(corners, -1, axis=0) - corners) / (px_per_mm(file.ppi_x), px_per_mm(file.ppi_y))
    top, right, bottom, left = np.linalg.norm(sides, axis=1)
    return float(top + bottom) / 2, float(left + right) / 2
