"""How one impression is inked, wiped and pressed: the recipe of a pull, and the faults planted in it.

Sizes of the ordinary variation are common practice for a steady printer: ink 3 %, printed width 3 %, film 0.010 D
from pull to pull. Each fault has a strength of 0 to 1; what full strength means is written in faults.py.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tests.simulate.mapping import Crease

Cause = Literal[
    "under-inked", "overwiped", "underwiped", "wipe streaks", "uneven wiping", "retroussage", "clogged hatching",
    "low pressure", "uneven pressure", "dry paper", "doubled", "crease", "specks", "bevel ink", "plate wear",
    "burr loss",
]  # fmt: skip

INK_SPREAD = 0.03
"""Relative spread of ink fill from pull to pull."""
WIDTH_SPREAD = 0.03
"""Relative spread of printed width from pull to pull."""
FILM_SPREAD_DENSITY = 0.010
"""Spread of the film from pull to pull. [D]"""


@dataclass(frozen=True, slots=True, eq=False)
class Fault:
    """One thing that went wrong on a pull."""

    cause: Cause
    strength: float
    """0 = nothing, 1 = as bad as a printer would still look at twice."""
    centre_mm: tuple[float, float] | None = None
    """Middle of the place it happens, None = everywhere. [plate mm]"""
    radius_mm: float = 15.0
    """Reach around `centre_mm`."""
    angle_deg: float = 20.0
    """Direction of streaks, ramps and of the doubling vector, counter-clockwise from x."""
    size_um: float = 160.0
    """Doubling: length of the shift. [sheet µm]"""
    crease: Crease | None = None
    """Crease: where."""


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """Everything that makes one impression and its scan differ from another."""

    number: str
    faults: tuple[Fault, ...] = ()
    ink: float = 1.0
    """Fill of the grooves, 1 = the recipe."""
    width: float = 1.0
    """Printed width against the recipe."""
    film_density: float = 0.045
    """Plate tone of the recipe on this pull. [D]"""
    unevenness: float = 1.0
    """Scale of the ordinary small unevenness of ink (2 %) and film (0.004 D)."""
    grain: float = 1.0
    """Scale of the paper's ordinary grain: ragged edges, mottle and formation of bare paper."""
    stretch: tuple[float, float] = (1.0, 1.0)
    shear: float = 0.0
    warp_mm: float = 0.05
    """Largest uneven stretch. [mm]"""
    rotation_deg: float = 0.0
    mirrored: bool = False
    margin_mm: float = 9.0
    paper: float = 0.86
    """Linear reflectance of bare paper against the scanner's white."""
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """Colour of the paper in linear red, green, blue, for RGB scans."""
    lamp: float = 0.012
    """Largest departure of the illumination from even."""
    bevel: float = 0.6
    """Ink in the plate mark, 0 = wiped clean."""
    bevel_at_mm: float = 0.0
    """How far outside the face, where the film ends, the bevel's line prints. The plate's size is that of the face."""
    emboss: float = 0.05
    """Shade of the plate mark's slope under the scanner's one-sided lamp, relative."""
    notes: dict[str, str] | None = None
    """Cells of pulls.csv."""


def ordinary_pull(number: str, seed: int, **changes: object) -> Pull:
    """Return a good pull with the ordinary variation of hand, paper and scanning.

    `changes` replace fields of `Pull` after the variation is drawn.
    """
    rng = np.random.default_rng([seed, 71])
    film, ink, width = np.clip(
        rng.normal(0.0, 1.0, 3), -1.7, 1.7
    )  # worse ones the printer would not count as good
    shrink = np.array([0.0, 0.0025]) + rng.normal(0.0, 0.0015, 2)
    pull = Pull(
        number=number,
        ink=float(1 + INK_SPREAD * ink),
        width=float(1 + WIDTH_SPREAD * width),
        film_density=float(0.045 + FILM_SPREAD_DENSITY * film),
        stretch=(float(1.0 - 0.004 + shrink[0]), float(1.0 - 0.004 + shrink[1])),
        shear=float(rng.normal(0.0, 0.0006)),
        warp_mm=float(rng.uniform(0.02, 0.09)),
        rotation_deg=float(rng.normal(0.0, 0.5)),
        paper=float(rng.normal(0.86, 0.008)),
        lamp=float(rng.uniform(0.004, 0.015)),
        bevel=float(rng.uniform(0.3, 0.9)),
    )
    return replace(pull, **changes)  # type: ignore[arg-type]
