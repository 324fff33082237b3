"""What the scans of an edition can answer and what not, told from their resolution, blur and codes."""

from typing import NamedTuple

import numpy as np
import pandas as pd

from proofkit.edition import MeasuredEdition
from proofkit.measures.broad_lines import USUAL_DEPTH
from proofkit.measures.lines import WIDE_PX, WIDE_SIGMAS
from proofkit.quality import Quality, from_words
from proofkit.units import UM_PER_MM, px_per_mm
from proofkit.wording import first_of

LEAST_PERIOD_PX, LEAST_PERIOD_SIGMAS = 2.5, 5.0
"""Closest hatching whose load and film are right to 1 % or so: measured on ruled patches at 400 to 2400 ppi, where
lines take up two fifths of a period and the gap is left three blur sigmas."""

USUAL_PPI = (600, 800, 1200, 1600, 2400)
"""Resolutions that scanners offer. [px/inch]"""

MOST_NAMED = 4
"""Regions that are named in a sentence."""


class Resolving(NamedTuple):
    """What the scans resolve."""

    ppi: float
    blur_um: float
    """Standard deviation. [µm]"""

    @property
    def px_um(self) -> float:
        """Side of a pixel. [µm]"""
        return UM_PER_MM / px_per_mm(self.ppi)

    @property
    def optics_um(self) -> float:
        """Blur without the pixel's own. [µm]"""
        return float(np.sqrt(max(self.blur_um**2 - self.px_um**2 / 12, 1.0)))

    @property
    def least_width_um(self) -> float:
        """Narrowest line whose width is told. [µm]"""
        return max(WIDE_PX * self.px_um, WIDE_SIGMAS * self.blur_um)

    @property
    def most_per_mm(self) -> float:
        """Closest hatching whose load and film are told. [1/mm]"""
        return UM_PER_MM / max(LEAST_PERIOD_PX * self.px_um, LEAST_PERIOD_SIGMAS * self.blur_um)


def resolving(measured: MeasuredEdition) -> Resolving | None:
    """Return what the middle one of an edition's scans resolves; None when nothing was measured."""
    sheets = measured.sheets
    ppi = np.sqrt(sheets["ppi_x"].to_numpy(float) * sheets["ppi_y"].to_numpy(float))
    blur = sheets["blur_um"].to_numpy(float)
    if not (np.isfinite(ppi).any() and np.isfinite(blur).any()):
        return None
    return Resolving(float(np.nanmedian(ppi)), float(np.nanmedian(blur)))


def advice(measured: MeasuredEdition) -> list[str]:
    """Return sentences on what these scans can answer, the most general one first."""
    return line_advice(measured) + (_codes(measured) if resolving(measured) else [])


def line_advice(measured: MeasuredEdition) -> list[str]:
    """Return the sentences of `advice` on what resolution and blur leave of the lines."""
    scan = resolving(measured)
    if scan is None:
        return []
    said = [
        f"At {scan.ppi:.0f} ppi with a blur of {scan.blur_um:.0f} µm these scans tell tone, plate tone and the load of "
        f"any line that stands alone; load and film of hatching up to {scan.most_per_mm:.1f} lines a mm; width and "
        f"core of lines from {scan.least_width_um:.0f} µm on."
    ]
    return said + _lost(measured) + _too_fine(measured, scan) + _too_close(measured, scan)


def _fine(measured: MeasuredEdition, *, with_load: bool) -> pd.DataFrame:
    """Return the rows whose lines are too fine for a width, and have a load or have none."""
    rows = measured.measurements
    fine = np.array([Quality.TOO_FINE in from_words(str(words)) for words in rows["quality"]], dtype=np.bool_)
    has_load = np.isfinite(rows["line_load_um"].to_numpy(float))
    return rows.loc[np.flatnonzero(fine & (has_load == with_load))]


def _lost(measured: MeasuredEdition) -> list[str]:
    """Say which regions have lines too fine for anything."""
    names = list(dict.fromkeys(_fine(measured, with_load=False)["region"]))
    if not names:
        return []
    return [
        f"The lines of {_named(names)} are too fine for these scans altogether: tone is all that is told of them. Scan "
        "at a higher resolution."
    ]


def _too_fine(measured: MeasuredEdition, scan: Resolving) -> list[str]:
    """Say which regions have lines too fine for a width, and what would show them."""
    part = _fine(measured, with_load=True)
    names = list(dict.fromkeys(part["region"]))
    if not names:
        return []
    width_um = float(part["line_load_um"].median()) / USUAL_DEPTH
    where = _named(names)
    for ppi in USUAL_PPI:
        px_um = UM_PER_MM / px_per_mm(ppi)
        blur_um = float(np.hypot(scan.optics_um, px_um / np.sqrt(12)))
        if ppi > 1.2 * scan.ppi and width_um > max(WIDE_PX * px_um, WIDE_SIGMAS * blur_um):
            return [
                f"The lines of {where}, about {width_um:.0f} µm wide by their load, have no width here; {ppi} ppi "
                "would show it. Their load stands as it is."
            ]
    return [
        f"The lines of {where}, about {width_um:.0f} µm wide by their load, have no width here, nor would "
        f"{USUAL_PPI[-1]} ppi show it with this scanner's optics ({scan.optics_um:.0f} µm of blur). Their load stands "
        "as it is."
    ]


def _too_close(measured: MeasuredEdition, scan: Resolving) -> list[str]:
    """Say which hatching is closer than these scans tell."""
    rows = measured.measurements
    close = rows[rows["lines_per_mm"] > scan.most_per_mm]
    names = list(dict.fromkeys(close["region"]))
    if not names:
        return []
    return [
        f"The hatching of {_named(names)} is closer than that: where its load and film are told at all, they are "
        "as unsure as their u_ columns say, much alike on all sheets of one setting; a higher resolution settles it."
    ]


def _codes(measured: MeasuredEdition) -> list[str]:
    """Say what codes, curve and backing leave open."""
    said = []
    if (measured.sheets["bits"].to_numpy(float) <= 8).any():
        said.append(
            "Scans of 8 bits step by 0.004 D near the paper, 0.01 D at a density of 1 and 0.025 D at 2: they hold "
            "plate tone well and solid blacks badly. 16 bits leave no such steps."
        )
    flags = [from_words(str(words)) for words in measured.sheets["quality"]]
    if any(Quality.CURVE_ASSUMED in flag for flag in flags):
        said.append(
            "How codes became light was assumed: densities may be off by 5 % or so, alike on all sheets. A step wedge "
            "beside the sheet, or tone_curve in edition.toml, settles it."
        )
    if not measured.edition.capture.backing:
        said.append(
            "What lay behind the sheets is not noted (backing under [capture] in edition.toml). Black or white behind "
            "usual paper moves tones by about 0.01 D, their distance from the bare paper of the same scan by 0.003 D "
            "at most; on thin paper it is more. Keep to one backing."
        )
    return said


def _named(names: list[str]) -> str:
    """Return some names in quotes, and how many more there are."""
    return first_of([f"'{name}'" for name in names], MOST_NAMED)
