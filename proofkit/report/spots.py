"""Single places of the sheets beside the same place of the standard, each as a small square."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np
import pandas as pd

from proofkit.arrays import Picture
from proofkit.edition import MeasuredEdition, PlatePictures
from proofkit.errors import ProofkitError
from proofkit.report.pictures import data_uri
from proofkit.wording import pulls_listed

SPOTS_OF_A_SHEET = 4
"""Places of one sheet that are shown as pictures; the table names all."""

MOST_SPOTS = 32
"""Places shown as pictures in all: each takes some 10 kB of the page."""

SQUARE_MM = 4.0
"""Side of the square shown: a speck of 0.3 mm is then plain to see. [mm]"""

PX_PER_MM = 40.0
"""No picture is sampled finer. [px/mm]"""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place as people read it."""

    pull: str
    kind: str
    where: str
    """Position on the plate and the regions there."""
    size: str
    change: str
    recurs: str
    here: str
    """Data address of the square on this sheet; empty when it is not shown."""
    standard: str
    order: int
    """Of the pull, in order of printing."""


def spots(measured: MeasuredEdition, places: pd.DataFrame, pictures: PlatePictures) -> tuple[Spot, ...]:
    """Return the places of table `places`, by pull in order of printing, the most conspicuous first.

    Pictures are asked for pull by pull, the standard's first, so that a source that keeps the last scan in memory
    reads each scan once.
    """
    rows = places.to_dict("records")
    order = {pull.pull: k for k, pull in enumerate(measured.edition.pulls)}
    shown = _shown([str(row["pull"]) for row in rows])
    boxes = [_box(measured, row) for row in rows]
    standards = [
        _square(pictures, measured.standard, box) if k in shown else "" for k, box in enumerate(boxes)
    ]
    return tuple(
        Spot(
            pull=str(row["pull"]),
            kind=str(row["kind"]),
            where=_where(row),
            size=f"{float(row['length_mm']):.1f} × {float(row['breadth_mm']):.1f} mm",
            change=f"{100 * abs(float(row['ink_change'])):.0f} % of black "
            f"{'darker' if float(row['ink_change']) > 0 else 'lighter'}",
            recurs=_elsewhere(row),
            here=_square(pictures, str(row["pull"]), boxes[k]) if k in shown else "",
            standard=standards[k],
            order=order[str(row["pull"])],
        )
        for k, row in enumerate(rows)
    )


def _shown(pulls: Sequence[str]) -> set[int]:
    """Return which places are shown: the first few of each sheet, as long as there is room."""
    chosen: list[int] = []
    for _, group in groupby(range(len(pulls)), key=lambda k: pulls[k]):
        chosen.extend(list(group)[:SPOTS_OF_A_SHEET])
    return set(chosen[:MOST_SPOTS])


def _box(measured: MeasuredEdition, row: dict[object, object]) -> tuple[float, float, float, float]:
    """Return a square about a place, moved inwards where it would leave the plate, larger for a long place. [mm]"""
    side = max(SQUARE_MM, float(str(row["length_mm"])) + 2.0)
    side = min(side, measured.plate_width_mm, measured.plate_height_mm)
    x0 = float(np.clip(float(str(row["x_mm"])) - side / 2, 0, measured.plate_width_mm - side))
    y0 = float(np.clip(float(str(row["y_mm"])) - side / 2, 0, measured.plate_height_mm - side))
    return (x0, y0, x0 + side, y0 + side)


def _square(pictures: PlatePictures, pull: str, box: tuple[float, float, float, float]) -> str:
    try:
        picture: Picture = pictures(pull, box, PX_PER_MM * SQUARE_MM / max(box[2] - box[0], SQUARE_MM))
    except ProofkitError:
        return ""
    return data_uri(picture) if np.isfinite(picture).any() else ""


def _where(row: dict[object, object]) -> str:
    place = f"{float(str(row['x_mm'])):.1f} mm from the left, {float(str(row['y_mm'])):.1f} mm from the top"
    return f"{place} ({row['regions']})" if row["regions"] else place


def _elsewhere(row: dict[object, object]) -> str:
    """Return which other pulls have the same mark, and whose it is; a plate keeps its marks, a sheet does not.

    >>> _elsewhere({"seen_on": "10; 11", "keeps_to": ""}), _elsewhere({"seen_on": "7", "keeps_to": "press"})
    ('also on pulls 10 and 11: look at the plate', 'also on pull 7: of the press, not of the plate')
    """
    pulls = [pull for pull in str(row["seen_on"]).split("; ") if pull]
    if not pulls:
        return ""
    whose = {"": "look at the plate", "plate": "of the plate", "press": "of the press, not of the plate"}
    return f"also on {pulls_listed(pulls)}: {whose[str(row['keeps_to'])]}"
