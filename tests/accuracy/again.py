"""Do standard uncertainties hold what one pull reads, printed and scanned again? On held-out plates.

A pull is printed on several sheets of one paper, and each print is laid down several times, by a tone curve that errs
as it is said to. Ink and plate are the same, so what differs is what an uncertainty has to hold: paper and ragged edges
between prints, noise, place and turn of the sheet, and the curve, between scans. It should not be far larger either.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy.stats import norm

from proofkit.folder.edition import Capture, Edition, Pull, Region
from proofkit.sheet import make_standard, measure_sheet
from tests.accuracy.coverage import U_CURVE
from tests.accuracy.rows import Row
from tests.heldout.again import print_sheet, scan_again
from tests.heldout.edition import any_capture, any_recipe, any_stock
from tests.heldout.ink import FAULTS, sound_pull
from tests.heldout.plate import random_plate

SIZE_MM, PPI = (50.0, 44.0), 600
PRINTS, SCANS = 3, 3
WEAK = 0.8
"""How strongly every second plate is under-inked, so that its lines break. [-]"""

WITHIN, TOO_LARGE = 90.0, 3.0
"""Differences that have to lie within two standard uncertainties [%], and how many times larger than what differences
show an uncertainty may be: as wide as one likes, it would hold everything."""

ASKED = (
    "line_load_um", "line_width_um", "fine_line_width_um", "broad_line_width_um", "line_core_density",
    "line_continuity_fraction", "edge_raggedness_um", "edge_softness_um", "hollow_index", "plate_tone_density",
    "plate_tone_unevenness_density", "plate_tone_unevenness_fine_density", "ground_between_lines_density",
    "tone_fraction", "density_p05", "density_p25", "density_p50", "density_p75", "density_p95",
)  # fmt: skip


BY_STRETCH = frozenset({"edge_softness_um"})
"""Prints differ in these in fact: the scan's blur, which is most of them, is wider in mm of the plate where paper
stretched less."""


ENDS = {"line_continuity_fraction": 1.0, "hollow_index": 0.0}
"""Where scales end: values as near as two standard uncertainties hardly scatter, so their size is not asked there."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure of one region on one scan."""

    measure: str
    place: tuple[int, str]
    """Seed of the plate, and region."""
    sheet: int
    """Number of the print."""
    value: float
    u: float


def again_rows(folder: Path, seeds: Iterable[int]) -> list[Row]:
    """Return three rows a measure: scans of one print, prints of one pull, and how large the uncertainty is."""
    readings = [reading for seed in seeds for reading in read_again(folder / str(seed), seed)]
    rows = []
    for measure in ASKED:
        of_measure = [reading for reading in readings if reading.measure == measure]
        same, other = _differences(of_measure)
        detail = f"rms {_rms(same):.2f} of scans, {_rms(other):.2f} of prints" if len(other) else ""
        for what, found in (("scans of one print", same), ("prints of one pull", other)):
            share = 100 * float(np.mean(np.abs(found) <= 2)) if len(found) else np.nan
            bar = None if measure in BY_STRETCH and found is other else WITHIN
            rows.append(Row(f"{measure}, {what}, within 2 u", share, "%", bar, ">=", len(found)))
        moved = _differences([one for one in of_measure if one.place in _away_from_ends(of_measure)])[1]
        count = len(moved) if np.any(moved) else 0
        size = 1 / _rms(moved) if count else np.nan
        rows.append(Row(f"{measure}, u over spread of prints", size, "", TOO_LARGE, "<=", count, detail))
    return rows


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _away_from_ends(readings: list[Reading]) -> set[tuple[int, str]]:
    """Return the places where a measure lies two standard uncertainties and more from the end of its scale."""
    far = defaultdict(list)
    for one in readings:
        end = ENDS.get(one.measure)
        far[one.place].append(end is None or abs(one.value - end) > 2 * one.u)
    return {place for place, told in far.items() if all(told)}


def _differences(readings: list[Reading]) -> tuple[np.ndarray, np.ndarray]:
    """Return differences in combined standard uncertainties: of scans of one print, and of prints."""
    places = defaultdict(list)
    for reading in readings:
        places[reading.place].append(reading)
    same, other = [], []
    for found in places.values():
        for one, two in combinations(found, 2):
            u, apart = float(np.hypot(one.u, two.u)), one.value - two.value
            (same if one.sheet == two.sheet else other).append(
                apart / u if u > 0 else np.copysign(np.inf, apart) if apart else 0.0
            )
    return np.array(same), np.array(other)


def read_again(folder: Path, seed: int) -> Iterator[Reading]:
    """Draw a plate, print and scan a pull of it again and again, and give what is read."""
    edition = drawn_again(folder, seed)
    standard = make_standard(edition, edition.pulls[0])
    for pull in edition.pulls[1:]:
        for row in measure_sheet(edition, pull, standard).rows:
            for measure in ASKED:
                value, u = row.get(measure), row.get(f"u_{measure}")
                if isinstance(value, float) and isinstance(u, float):
                    place = seed, str(row["region"])
                    yield Reading(measure, place, int(pull.pull.split(".")[0]), value, u)


def drawn_again(folder: Path, seed: int) -> Edition:
    """Write the scans of a plate: a standard first, and then a pull printed and scanned again and again."""
    (folder / "scans").mkdir(parents=True, exist_ok=True)
    rng = np.random.default_rng([seed, PPI, 31])
    plate = random_plate(seed, SIZE_MM)
    recipe, stock = any_recipe(rng), replace(any_stock(rng), bed=None)
    capture, _ = any_capture(rng, PPI)
    standard, pull = sound_pull(plate, recipe, rng), sound_pull(plate, recipe, rng)
    if seed % 2:
        FAULTS["under-inked"](plate, pull, WEAK, rng)
    even = (rng.permutation(PRINTS * SCANS) + 0.5) / (PRINTS * SCANS)
    errors = (U_CURVE * norm.ppf(even)).reshape(PRINTS, SCANS)
    first = print_sheet(plate, recipe, standard, stock, PPI, rng)
    scan_again(folder / "scans" / "standard.tif", first, capture, rng)
    pulls = [Pull("standard", "standard.tif")]
    for number in range(PRINTS):
        printed = print_sheet(plate, recipe, pull, stock, PPI, rng)
        for lay in range(SCANS):
            name = f"{number}.{lay}"
            scan_again(folder / "scans" / f"{name}.tif", printed, capture, rng, errors[number, lay])
            pulls.append(Pull(name, f"{name}.tif"))
    regions = tuple(Region(field.name, field.work, field.outline) for field in plate.fields)
    return Edition(
        folder, "Printed and scanned again", tuple(pulls), regions, standard="standard",
        plate_width_mm=plate.width_mm, plate_height_mm=plate.height_mm, capture=Capture(tone_curve=capture.curve),
    )  # fmt: skip
