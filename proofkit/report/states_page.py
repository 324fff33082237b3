"""The page on two states: both beside each other and over each other, with what changed drawn in."""

from dataclasses import dataclass
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

import numpy as np
import pandas as pd
from markupsafe import Markup

import proofkit
from proofkit.arrays import Points
from proofkit.folder.writing import write_text
from proofkit.laying.rectify import Box
from proofkit.measures.raster import reflectance_picture
from proofkit.measures.types import LaidSheet
from proofkit.report.page import content_policy
from proofkit.report.pictures import data_uri
from proofkit.report.templates import templates
from proofkit.states.alone import SHORTEST_ALONE_MM, SHORTEST_CROSSED_ALONE_MM, SHORTEST_LOAD_ALONE_MM
from proofkit.states.comparison import ComparedStates
from proofkit.states.tone_areas import LEAST_AREA_MM2, LEAST_CHANGE, LEAST_CHANGE_ALONE
from proofkit.states.types import KINDS, Change
from proofkit.states.verdicts import SHORTEST_LOAD_MM, SHORTEST_MM

WHOLE_PX = 1600
"""Longest side of the picture of a whole plate. [px]"""

CLOSE_MM = 10.0
"""Side of a place shown close. [mm]"""

CLOSE_PX = 420

MOST_CLOSE = 12
"""Places shown close: the longest changes, of each kind in turn."""

NUMBER_MM = 0.6
"""How far its number stands from a stroke. [mm]"""

WORDS = {
    "added": "lines that only the later state has",
    "removed": "lines that are gone: burnished or scraped",
    "deepened": "lines that carry more ink than their neighbours gained",
    "lightened": "lines that carry less ink than their neighbours lost",
    "scratch": "thin, straight, parallel: perhaps an accident, not work",
    "doubtful": "not the same on every pull",
}
"""What each kind means, in the page's key."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A change as it is drawn."""

    number: str
    kind: str
    path: str
    """SVG path in plate mm."""
    x_mm: float
    """Where its number stands."""
    y_mm: float


@dataclass(frozen=True, slots=True)
class ToneShape:
    """An area of changed tone as it is drawn."""

    number: str
    kind: str
    path: str
    """SVG path in plate mm, closed."""
    x_mm: float
    """Where its number stands."""
    y_mm: float


@dataclass(frozen=True, slots=True)
class Close:
    """One place shown close, on both states."""

    title: str
    x0_mm: float
    y0_mm: float
    side_mm: float
    before: str
    after: str
    strokes: tuple[Stroke, ...]
    tones: tuple[ToneShape, ...]


def write_states_report(
    compared: ComparedStates,
    labels: tuple[str, str],
    tables: tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame],
    path: Path,
) -> None:
    """Write the page, and beside it the picture with the differences drawn.

    Parameters
    ----------
    compared : ComparedStates
    labels : (str, str)
        What the two states are called.
    tables : (pulls, changes, areas)
        As in `columns`.
    path : Path
        The page; the picture lies beside it as `changes.svg`.
    """
    scripts = [_own("states.js")]
    strokes = tuple(_stroke(number, change) for number, change in enumerate(compared.changes, 1))
    tones = _tone_shapes(compared)
    sheets = _shown(compared)
    values = {
        "compared": compared,
        "labels": labels,
        "pulls": tables[0].to_dict("records"),
        "changes": tables[1].to_dict("records"),
        "areas": tables[2].to_dict("records"),
        "version": proofkit.__version__,
        "made_at": datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC"),
        "policy": content_policy(scripts),
        "style": Markup(_own("page.css") + _own("states.css")),  # noqa: S704  # our own files
        "scripts": [Markup(script) for script in scripts],  # noqa: S704  # our own file
        "strokes": strokes,
        "tones": tones,
        "tone_key": [(kind, *_tone_sum(compared, kind)) for kind in KINDS if _tone_sum(compared, kind)[0]],
        "key": [(kind, WORDS[kind], *_sum(compared, kind)) for kind in KINDS if _sum(compared, kind)[0]],
        "shortest": {
            "stroke": SHORTEST_MM,
            "alone": SHORTEST_ALONE_MM,
            "alone_crossed": SHORTEST_CROSSED_ALONE_MM,
            "load": SHORTEST_LOAD_MM,
            "load_alone": SHORTEST_LOAD_ALONE_MM,
            "tone": LEAST_CHANGE,
            "tone_alone": LEAST_CHANGE_ALONE,
            "area": LEAST_AREA_MM2,
        },
        "pictures": [_whole(sheet, compared) for sheet in sheets],
        "close": _close(compared, sheets, strokes, tones),
    }
    if len(sheets) == 2:
        picture = templates().get_template("states_picture.svg.j2").render(values, style=_own("states.css"))
        write_text(path.with_name("changes.svg"), picture)
    write_text(path, templates().get_template("states.html.j2").render(values))


def _own(name: str) -> str:
    return resources.files("proofkit.report").joinpath(name).read_text(encoding="utf-8")


def _shown(compared: ComparedStates) -> list[LaidSheet]:
    """Return the first pull of each state; one only when the other is no plate of the same."""
    return [pull.laid for pull in compared.pulls if pull.laid is not None][:2]


def _sum(compared: ComparedStates, kind: str) -> tuple[int, float]:
    lengths = [change.length_mm for change in compared.changes if change.kind == kind]
    return len(lengths), sum(lengths)


def _tone_sum(compared: ComparedStates, kind: str) -> tuple[int, float]:
    areas = [area.area_mm2 for area in compared.areas if area.tone_density is not None and area.kind == kind]
    return len(areas), sum(areas)


def _tone_shapes(compared: ComparedStates) -> tuple[ToneShape, ...]:
    """Return the areas whose tone changed, numbered as in the table of areas."""
    shapes = []
    for number, area in enumerate(compared.areas, 1):
        if area.tone_density is not None:
            x, y = area.outline_mm.mean(axis=0)
            shapes.append(
                ToneShape(f"A{number}", area.kind, _path(area.outline_mm) + " Z", float(x), float(y))
            )
    return tuple(shapes)


def _stroke(number: int, change: Change) -> Stroke:
    points = change.points_mm
    middle = len(points) // 2
    step = points[min(middle + 2, len(points) - 1)] - points[max(middle - 2, 0)]
    aside = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-9)
    if aside[1] > 0:
        aside = -aside
    x, y = points[middle] + NUMBER_MM * aside
    return Stroke(str(number), change.kind, _path(points), float(x), float(y))


def _path(points: Points) -> str:
    return "M" + " L".join(f"{x:.2f},{y:.2f}" for x, y in points)


def _whole(sheet: LaidSheet, compared: ComparedStates) -> str:
    pitch = max(compared.width_mm, compared.height_mm) / WHOLE_PX
    columns, rows = int(compared.width_mm / pitch), int(compared.height_mm / pitch)
    return data_uri(
        reflectance_picture(
            sheet.scan, sheet.paper, sheet.laying, Box(pitch / 2, pitch / 2, columns, rows, pitch)
        )
    )


def _close(
    compared: ComparedStates,
    sheets: list[LaidSheet],
    strokes: tuple[Stroke, ...],
    tones: tuple[ToneShape, ...],
) -> tuple[Close, ...]:
    """Return the places worth a look: the longest strokes and largest tones of each kind in turn, none shown twice."""
    if len(sheets) < 2:
        return ()
    half = CLOSE_MM / 2
    places: list[Close] = []
    for title, middle in _worth_a_look(compared):
        x, y = middle
        if any(abs(x - p.x0_mm - half) < half / 2 and abs(y - p.y0_mm - half) < half / 2 for p in places):
            continue
        box = Box(x - half, y - half, CLOSE_PX, CLOSE_PX, CLOSE_MM / CLOSE_PX)
        before, after = (
            data_uri(reflectance_picture(sheet.scan, sheet.paper, sheet.laying, box)) for sheet in sheets
        )
        near = tuple(
            stroke for stroke, other in zip(strokes, compared.changes, strict=True)
            if (np.abs(other.points_mm - middle) < half).all(axis=1).any()
        )  # fmt: skip
        places.append(Close(title, x - half, y - half, CLOSE_MM, before, after, near, tones))
        if len(places) == MOST_CLOSE:
            break
    return tuple(places)


def _worth_a_look(compared: ComparedStates) -> list[tuple[str, Points]]:
    """Return title and middle of each change, of every kind one in turn."""
    groups: list[list[tuple[str, Points]]] = []
    for kind in KINDS:
        groups.append(
            [
                (f"{k}: {kind}, {change.length_mm:.1f} mm", change.points_mm[len(change.points_mm) // 2])
                for k, change in enumerate(compared.changes, 1)
                if change.kind == kind
            ]
        )
        groups.append(
            [
                (f"A{k}: tone {kind}, {area.area_mm2:.0f} mm²", area.outline_mm.mean(axis=0))
                for k, area in enumerate(compared.areas, 1)
                if area.kind == kind and area.tone_density is not None
            ]
        )
    return [place for turn in range(MOST_CLOSE) for group in groups for place in group[turn : turn + 1]]
