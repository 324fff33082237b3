"""Lines of a drawing: soft, uneven and often faint, from half a millimetre wide down to a fine point."""

import numpy as np
from scipy.ndimage import gaussian_filter

from proofkit.arrays import INK_SCALE, INK_ZERO, Ink, Picture
from proofkit.drawing.types import Courses
from proofkit.errors import ComparisonError
from proofkit.laying.rectify import plate_box, rectify_coarse
from proofkit.laying.start import laying_of_corners
from proofkit.lines.centrelines import find_lines
from proofkit.lines.linking import linked
from proofkit.lines.types import LineMap
from proofkit.reflectance import paper_level
from proofkit.reflectance.types import Paper
from proofkit.scan.types import Scan
from proofkit.scatter import robust_sd
from proofkit.units import px_per_mm

PITCH_MM = 0.1
"""Pitch of the picture in which lines are looked for: the finder's three widths then span 0.1 to 0.9 mm. [mm]"""

SMOOTH_MM = 0.12
"""Blur that takes the grain of graphite on the tooth of paper, not the line. [mm]"""

STRONG_INK = 0.6
"""The drawing's darkest lines are brought to this ink, so that a weak drawing is read like a firm one. [-]"""

MOST_GAIN = 12.0
"""... by this factor at most: fainter marks are the grain of the paper. [-]"""

NOISES = 2.0
"""Weakest ridge, in standard deviations of the smoothed grain of bare paper: a line hangs together over `SHORTEST_MM`,
while grain does not. [-]"""

BREAK_MM = 1.0
"""Pencil lets go of the tooth of the paper and is laid on again: pieces of a line run on over such breaks. [mm]"""

SHORTEST_MM = 2.0
"""Shorter pieces are texture or smudge. [mm]"""

LEAST_LENGTH_MM = 20.0
"""Less line than this is no drawing that can be compared. [mm]"""

EDGE_MM = 1.5
"""Lines this close to the edge of the scan are the edge of the sheet. [mm]"""


def find_pencil_lines(scan: Scan, paper: Paper) -> Courses:
    """Return the lines of a drawing in its own millimetres, from the top left of the scan.

    Parameters
    ----------
    scan : Scan
    paper : Paper

    Raises
    ------
    ComparisonError
        If there are hardly any lines.
    """
    size = (
        (scan.file.width - 1) / px_per_mm(scan.file.ppi_x),
        (scan.file.height - 1) / px_per_mm(scan.file.ppi_y),
    )
    picture = _darkness(scan, paper, size)
    fine = gaussian_filter(picture, SMOOTH_MM / PITCH_MM)
    ground = gaussian_filter(picture, 3.0 / PITCH_MM)
    lines = np.asarray(fine - ground, dtype=np.float32)
    noise = robust_sd(lines)
    gain = float(np.clip(STRONG_INK / max(float(np.percentile(lines, 99.5)), 1e-3), 1.0, MOST_GAIN))
    found = linked(find_lines(_as_ink(lines * gain), PITCH_MM, NOISES * noise * gain), BREAK_MM)
    courses = _courses(found, size)
    total = float(courses.length_mm.sum())
    if total < LEAST_LENGTH_MM:
        raise ComparisonError(
            f"{scan.file.path.name} shows {total:.0f} mm of drawn line, at least {LEAST_LENGTH_MM:.0f} mm are needed: "
            "it is blank, too faint or all tone; scan it with more contrast, or give another drawing"
        )
    return courses


def _darkness(scan: Scan, paper: Paper, size_mm: tuple[float, float]) -> Picture:
    """Return 1 - R/Rp of the whole scan, averaged over `PITCH_MM`."""
    w, h = scan.file.width - 1.0, scan.file.height - 1.0
    laying = laying_of_corners(np.array([(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]), *size_mm)
    box = plate_box(*size_mm, PITCH_MM)
    picture = rectify_coarse(scan.levels, laying, box)
    rows, columns = np.mgrid[: box.rows, : box.columns] * PITCH_MM
    level = paper_level(
        paper, columns.ravel() * px_per_mm(scan.file.ppi_x), rows.ravel() * px_per_mm(scan.file.ppi_y)
    ).reshape(picture.shape)
    return np.asarray(1 - np.nan_to_num(picture / level, nan=1.0), dtype=np.float32)


def _as_ink(darkness: Picture) -> Ink:
    return np.asarray(np.clip(np.rint(INK_ZERO + INK_SCALE * darkness), 0, 255), dtype=np.uint8)


def _courses(found: LineMap, size_mm: tuple[float, float]) -> Courses:
    """Return the lines that are long enough and lie inside the sheet."""
    lengths = np.bincount(found.line, weights=found.length_mm) if found.size else np.empty(0)
    x, y = found.points_mm.T
    keep = (x > EDGE_MM) & (y > EDGE_MM) & (x < size_mm[0] - EDGE_MM) & (y < size_mm[1] - EDGE_MM)
    keep &= lengths[found.line] > SHORTEST_MM
    return courses_of(found, keep, np.ones(found.size))


def courses_of(lines: LineMap, keep: np.ndarray, weight: np.ndarray) -> Courses:
    """Return some points of lines as courses."""
    normals = lines.normals[keep]
    direction = np.mod(np.arctan2(normals[:, 1], normals[:, 0]) + np.pi / 2, np.pi)
    number = np.unique(lines.line[keep], return_inverse=True)[1].astype(np.int32)
    return Courses(lines.points_mm[keep], direction, number, lines.length_mm[keep], weight[keep])
