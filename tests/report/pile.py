"""A pile of fifteen pulls whose faults are known by construction, as the pipeline would hand it on.

Pull 4 is the standard, 5 to 7 confirm it. Pull 9 was overwiped in the sky (thin fine lines, film at the floor),
pull 12 underwiped over the right half, pull 13 could not be read. The plate is 120 mm x 90 mm.
"""

from pathlib import Path

import numpy as np
import pandas as pd

from proofkit import columns
from proofkit.edition import (
    HISTOGRAM_BINS,
    HISTOGRAM_START_DENSITY,
    HISTOGRAM_STEP_DENSITY,
    TONE_PITCH_MM,
    MeasuredEdition,
)
from proofkit.folder.edition import Edition, Pull, Region, rectangle
from proofkit.judgement.types import Judged

WIDTH_MM, HEIGHT_MM = 120.0, 90.0
STANDARD = "4"
CONFIRMING = ("5", "6", "7")
UNREADABLE = "13"
OVERWIPED, UNDERWIPED = "9", "12"
PULLS = tuple(str(number) for number in range(1, 16))
FINER = 4
"""Samples across a cell of the coarse tone pictures."""

HOSTILE = '<script>alert("x")</script>'
"""Text that a careless page would run."""

REGIONS = (
    Region("sky", "lines", rectangle(5, 5, 115, 30)),
    Region("wall", "lines", rectangle(65, 35, 115, 85)),
    Region("foreground", "lines", rectangle(5, 60, 60, 85)),
    Region("open ground", "open", rectangle(5, 35, 60, 55)),
)
LINES = {"sky": (0.5, 0.05), "wall": (0.4, 0.09), "foreground": (0.8, 0.14)}
"""Region -> spacing and width of its hatching. [mm]"""

FILM = {"sky": 0.03, "wall": 0.04, "foreground": 0.04, "open ground": 0.03}
"""Plate tone of a good pull. [D]"""


def line_gain(pull: str, region: str) -> float:
    """Line load against the standard's, true by construction."""
    wobble = 1 + 0.012 * np.sin(2.1 * PULLS.index(pull) + len(region))
    return float(wobble * (0.62 if pull == OVERWIPED and region == "sky" else 1.0))


def film(pull: str, region: str) -> float:
    """Plate tone, true by construction, in D."""
    wobble = 0.003 * np.sin(1.3 * PULLS.index(pull) + len(region))
    extra = {OVERWIPED: -0.022 if region == "sky" else 0.0, UNDERWIPED: 0.09 if region == "wall" else 0.0}
    return float(max(0.0, FILM[region] + wobble + extra.get(pull, 0.0)))


def picture(pull: str, box_mm: tuple[float, float, float, float], px_per_mm: float) -> np.ndarray:
    """Draw a part of a pull: hatching and film, linear reflectance against bare paper."""
    x0, y0, x1, y1 = box_mm
    x = x0 + (np.arange(round((x1 - x0) * px_per_mm)) + 0.5) / px_per_mm
    y = y0 + (np.arange(round((y1 - y0) * px_per_mm)) + 0.5) / px_per_mm
    xx, yy = np.meshgrid(x, y)
    result = np.full(xx.shape, 10**-0.03)
    for region in REGIONS:
        a, b, c, d = region.outline_mm.bounds
        inside = (xx >= a) & (xx < c) & (yy >= b) & (yy < d)
        ground = 10 ** -film(pull, region.name)
        value = np.full(xx.shape, ground)
        if region.name in LINES:
            spacing, width = LINES[region.name]
            width *= line_gain(pull, region.name)
            away = np.abs((xx + 0.6 * yy) % spacing - spacing / 2)
            core = np.clip((away - width / 2) * px_per_mm + 0.5, 0, 1)
            value = ground * (0.06 + 0.94 * core)
        result = np.where(inside, value, result)
    outside = (xx < 0) | (yy < 0) | (xx > WIDTH_MM) | (yy > HEIGHT_MM)
    return np.where(outside, np.nan, result).astype(np.float32)


def measured(folder: Path) -> MeasuredEdition:
    """Build the tables of the pile."""
    pulls = tuple(Pull(pull, f"sheet_{pull}.tif", {"designation": f"{pull}/15"}) for pull in PULLS)
    edition = Edition(
        folder=folder,
        title=f"The Quarry {HOSTILE}",
        pulls=pulls,
        regions=REGIONS,
        standard=STANDARD,
        confirming=CONFIRMING,
        remarks=("The plate's size was taken from the standard's plate mark.",),
    )
    read = [pull for pull in PULLS if pull != UNREADABLE]
    rows = [_row(pull, region) for pull in read for region in REGIONS]
    sheets = [
        {
            "pull": pull,
            "scan": f"sheet_{pull}.tif",
            "sha256": "0" * 64,
            "ppi_x": 600.0,
            "ppi_y": 600.0,
            "plate_width_mm": WIDTH_MM * 0.99,
            "plate_height_mm": HEIGHT_MM * 0.985,
            "stretch_x": 0.99 + 0.0004 * np.sin(index),
            "stretch_y": 0.985 + 0.0004 * np.cos(index),
            "misfit_um": 12 + 3 * np.sin(2 * index),
            "paper_density": 0.06,
            "quality": "curve assumed" if pull == "3" else "",
        }
        for index, pull in enumerate(read)
    ]
    box = (0.0, 0.0, WIDTH_MM, HEIGHT_MM)
    return MeasuredEdition(
        edition=edition,
        regions=REGIONS,
        standard=STANDARD,
        is_provisional=False,
        measurements=columns.make_table(rows, columns.MEASUREMENTS),
        sheets=columns.make_table(sheets, columns.SHEETS),
        histograms={(pull, region.name): _histogram(pull, region) for pull in read for region in REGIONS},
        tone_pictures={pull: _coarse(picture(pull, box, FINER / TONE_PITCH_MM)) for pull in read},
        failures={
            UNREADABLE: f"sheet_13.tif breaks off after 41 %: copy it again from the scanner. {HOSTILE}"
        },
        plate_width_mm=WIDTH_MM,
        plate_height_mm=HEIGHT_MM,
    )


def _row(pull: str, region: Region) -> dict[str, object]:
    name = region.name
    row: dict[str, object] = {
        "pull": pull,
        "scan": f"sheet_{pull}.tif",
        "region": name,
        "work": region.work,
        "quality": "",
        "plate_tone_density": film(pull, name),
        "u_plate_tone_density": 0.0015,
        "tone_fraction": 0.1 + film(pull, name),
        "u_tone_fraction": 0.002,
        "density_p25": film(pull, name),
        "density_p50": film(pull, name) + 0.02,
    }
    if name in LINES:
        load = 1000 * LINES[name][1] * 0.94 * line_gain(pull, name)
        row |= {"line_load_um": load, "u_line_load_um": 0.004 * load, "line_continuity_fraction": 0.99}
    return row


def _coarse(fine: np.ndarray) -> np.ndarray:
    h, w = fine.shape
    return fine.reshape(h // FINER, FINER, w // FINER, FINER).mean(axis=(1, 3)).astype(np.float32)


def _histogram(pull: str, region: Region) -> list[int]:
    a, b, _, _ = region.outline_mm.bounds
    values = -np.log10(picture(pull, (a, b, a + 12, b + 12), 20))
    values = values + 0.02 * np.random.default_rng(int(pull)).standard_normal(values.shape)
    edges = HISTOGRAM_START_DENSITY + HISTOGRAM_STEP_DENSITY * np.arange(HISTOGRAM_BINS + 1)
    counts, _ = np.histogram(values, edges)
    return [int(count) for count in counts]


def judged(pile: MeasuredEdition, *, is_trial: bool = True) -> Judged:
    """Judge the pile by hand: limits three spreads about the confirming pulls."""
    limits = []
    for measure in ("line_load_um", "plate_tone_density", "tone_fraction"):
        for region in REGIONS:
            rows = pile.measurements[pile.measurements["region"] == region.name].set_index("pull")
            good = rows.loc[[STANDARD, *CONFIRMING], measure]
            if good.isna().all():
                continue
            centre, spread = float(good.mean()), max(float(good.std(ddof=1)), 0.002)
            limits.append(
                {
                    "region": region.name,
                    "measure": measure,
                    "centre": centre,
                    "spread": spread,
                    "lower": centre - 3 * spread,
                    "upper": centre + 3 * spread,
                    "standard_value": float(rows.loc[STANDARD, measure]),
                    "source": "confirming",
                    "is_trial": is_trial,
                }
            )
    frame = pd.DataFrame(limits)
    return Judged(
        findings=columns.make_table(_findings(pile, frame), columns.FINDINGS),
        judgement=columns.make_table(_judgement(), columns.JUDGEMENT),
        limits=frame,
        expected_false=0.3,
        remarks=("The spread comes from 3 confirming pulls and is itself uncertain by about half.",),
    )


def _findings(pile: MeasuredEdition, limits: pd.DataFrame) -> list[dict[str, object]]:
    faults = (
        (OVERWIPED, "sky", "line_load_um", "weak"),
        (OVERWIPED, "sky", "plate_tone_density", "overwiped"),
        (UNDERWIPED, "wall", "plate_tone_density", "more plate tone"),
        (UNDERWIPED, "wall", "tone_fraction", "darker"),
    )
    found = []
    for pull, region, measure, word in faults:
        rows = pile.measurements
        value = float(rows.loc[(rows["pull"] == pull) & (rows["region"] == region), measure].iloc[0])
        row = limits[(limits["region"] == region) & (limits["measure"] == measure)].iloc[0]
        found.append(
            {
                "pull": pull,
                "region": region,
                "measure": measure,
                "value": value,
                "standard_value": row["standard_value"],
                "spread": row["spread"],
                "deviation": (value - row["centre"]) / row["spread"],
                "q_value": 1e-4,
                "direction": word,
            }
        )
    return found


def _judgement() -> list[dict[str, object]]:
    special: dict[str, dict[str, object]] = {
        STANDARD: {"verdict": "standard"},
        UNREADABLE: {"verdict": "not comparable", "reason": f"The scan breaks off. {HOSTILE}"},
        OVERWIPED: {
            "verdict": "look again",
            "causes": "overwiped; under-inked",
            "regions": "sky",
            "reason": "Thin fine lines in the sky while the film is at the floor. For overwiped: film and lines "
            "fall together. Against under-inked: the broad lines of the foreground are full.",
        },
        UNDERWIPED: {
            "verdict": "look again",
            "causes": "underwiped; uneven wiping",
            "regions": "wall",
            "reason": "The film is darker in the wall. For underwiped: ground and open film rise together.",
        },
    }
    return [{"pull": pull, "verdict": "matches", **special.get(pull, {})} for pull in PULLS]
