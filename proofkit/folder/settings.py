"""Read edition.toml: title, size of the copper, standard, capture, tolerances."""

import itertools
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, cast

from proofkit.columns import MEASURES, names
from proofkit.folder.edition import Capture, Tolerance, Wedge
from proofkit.folder.problems import place, quoted, read_text
from proofkit.folder.signed import Signed, read_signed
from proofkit.folder.toml_table import TomlTable, is_number, top_of
from proofkit.folder.wishes import Wish, read_wishes

SETTINGS_FILE = "edition.toml"

TOP_KEYS = (
    "title", "plate_width_mm", "plate_height_mm", "declared", "standard", "confirming", "watched", "capture",
    "tolerances", "candidates", "wishes", "signed",
)  # fmt: skip
CAPTURE_KEYS = ("ppi", "tone_curve", "backing", "wedge", "flat_field", "edge")
WEDGE_KEYS = ("densities", "steps", "first_density", "step_density", "corners")

PLATE_SIZE_MM = (5.0, 2000.0)
"""Sides of a plate that are believed: from a stamp to what the largest hand presses take. [mm]"""

PPI = (50.0, 20_000.0)
"""Resolutions that are believed. [px/inch]"""

GAMMA = (0.4, 4.0)
"""Exponents of a tone curve that are believed. [-]"""

WEDGE_DENSITY = (0.0, 5.0)
"""Densities of a step wedge that are believed. [D]"""

EDGE_SIDE_PX = 20
"""Smallest box of a slanted edge. [px]"""

FEWEST_STEPS = 3
"""A curve through fewer steps is a guess."""


@dataclass(frozen=True, slots=True)
class Settings:
    """What edition.toml says; names of pulls and regions are not compared with the other files yet."""

    title: str | None = None
    plate_width_mm: float | None = None
    plate_height_mm: float | None = None
    declared: Literal["uniform", "varied"] = "uniform"
    standard: str | None = None
    confirming: tuple[str, ...] = ()
    watched: tuple[str, ...] = ()
    capture: Capture = field(default_factory=Capture)
    tolerances: tuple[Tolerance, ...] = ()
    candidates: tuple[str, ...] = ()
    wishes: tuple[Wish, ...] = ()
    signed: tuple[Signed, ...] = ()
    text: str = ""
    """The file itself, to name lines of it."""


def read_settings(folder: Path, problems: list[str], remarks: list[str]) -> Settings:
    """Return the settings of an edition; all are optional, and so is the file."""
    path = folder / SETTINGS_FILE
    if not path.is_file():
        remarks.append(f"There is no {SETTINGS_FILE}: title, resolution and tone curve are as the files say.")
        return Settings()
    text = read_text(path, problems)
    top = top_of(SETTINGS_FILE, text, problems)
    if top is None:
        return Settings()
    width = top.number("plate_width_mm", *PLATE_SIZE_MM, "mm")
    height = top.number("plate_height_mm", *PLATE_SIZE_MM, "mm")
    _check_both_sides(top)
    settings = Settings(
        title=top.word("title") or None,
        plate_width_mm=width,
        plate_height_mm=height,
        declared=cast(
            "Literal['uniform', 'varied']", top.word("declared", ("uniform", "varied")) or "uniform"
        ),
        standard=top.pull("standard"),
        confirming=top.names("confirming", "pulls"),
        watched=top.names("watched", "regions"),
        capture=_capture(top.table("capture"), remarks),
        tolerances=_tolerances(top.table("tolerances")),
        candidates=top.names("candidates", "pulls"),
        wishes=read_wishes(top.table("wishes")),
        signed=read_signed(top),
        text=text,
    )
    remarks.extend(top.unknown(TOP_KEYS))
    return settings


def _check_both_sides(top: TomlTable) -> None:
    """One side of the plate alone sets no scale for the other."""
    for given, other in (("plate_width_mm", "plate_height_mm"), ("plate_height_mm", "plate_width_mm")):
        if given in top.values and other not in top.values:
            top.report(
                given,
                f"is given without {other}, allowed is both or none. Measure the other side of the copper.",
            )


def _capture(table: TomlTable | None, remarks: list[str]) -> Capture:
    if table is None:
        return Capture()
    wedge = _wedge(table.table("wedge"), remarks)
    capture = Capture(
        ppi=table.number("ppi", *PPI, "px/inch"),
        tone_curve=_tone_curve(table),
        backing=table.word("backing") or "",
        wedge=wedge,
        flat_field=table.word("flat_field") or "",
        edge_px=_edge(table),
    )
    if capture.tone_curve == "wedge" and "wedge" not in table.values:
        table.report(
            "tone_curve",
            "is 'wedge', but there is no [capture.wedge]. Say where the step wedge lies and its densities.",
        )
    remarks.extend(table.unknown(CAPTURE_KEYS))
    return capture


def _tone_curve(table: TomlTable) -> str | None:
    value = table.word("tone_curve")
    if not value:
        return None
    plain = {"srgb": "sRGB", "linear": "linear", "icc": "icc", "wedge": "wedge"}.get(value.lower())
    if plain:
        return plain
    gamma = re.fullmatch(r"gamma\s+([0-9]+(?:\.[0-9]+)?)", value, re.IGNORECASE)
    if gamma and GAMMA[0] <= float(gamma[1]) <= GAMMA[1]:
        return f"gamma {float(gamma[1]):g}"
    table.report(
        "tone_curve",
        f"is {quoted(value)}, allowed is 'sRGB', 'linear', 'icc', 'wedge' or 'gamma' and an exponent from {GAMMA[0]:g} "
        f"to {GAMMA[1]:g}, as in 'gamma 2.2'.",
    )
    return None


def _wedge(table: TomlTable | None, remarks: list[str]) -> Wedge | None:
    if table is None:
        return None
    densities = _densities(table)
    corners = _wedge_corners(table) if "corners" in table.values else ()
    remarks.extend(table.unknown(WEDGE_KEYS))
    if not densities or ("corners" in table.values and not corners):
        return None
    if not corners:
        remarks.append(
            "The step wedge is looked for in every scan, as [capture.wedge] has no corners; with them it goes faster."
        )
    return Wedge(densities, corners)


def _edge(table: TomlTable) -> tuple[float, float, float, float] | None:
    """Return the box of a slanted edge. [px]"""
    value = table.take("edge")
    if value is None:
        return None
    if isinstance(value, list) and len(value) == 4 and all(is_number(entry) for entry in value):
        x0, y0, x1, y1 = (float(str(entry)) for entry in value)
        if x1 - x0 >= EDGE_SIDE_PX and y1 - y0 >= EDGE_SIDE_PX:
            return x0, y0, x1, y1
    table.report(
        "edge",
        f"is {quoted(value)}, allowed is x0, y0, x1, y1 in px of a box of at least {EDGE_SIDE_PX} px a side that holds "
        "one slanted edge.",
    )
    return None


def _densities(table: TomlTable) -> tuple[float, ...]:
    listed = table.take("densities")
    if listed is None:
        return _even_steps(table)
    numbers = [float(str(entry)) for entry in listed if is_number(entry)] if isinstance(listed, list) else []
    steps = [after - before for before, after in itertools.pairwise(numbers)]
    good = isinstance(listed, list) and len(numbers) == len(listed) >= FEWEST_STEPS
    in_range = all(WEDGE_DENSITY[0] <= number <= WEDGE_DENSITY[1] for number in numbers)
    if good and in_range and (all(step > 0 for step in steps) or all(step < 0 for step in steps)):
        return tuple(numbers)
    table.report(
        "densities",
        f"is {quoted(listed)}, allowed is a list of at least {FEWEST_STEPS} densities from {WEDGE_DENSITY[0]:g} to "
        f"{WEDGE_DENSITY[1]:g}, all rising or all falling.",
    )
    return ()


def _even_steps(table: TomlTable) -> tuple[float, ...]:
    steps = table.number("steps", FEWEST_STEPS, 100, "")
    first = table.number("first_density", *WEDGE_DENSITY, "")
    step = table.number("step_density", 0.01, 1.0, "")
    if steps is None or first is None or step is None:
        missing = [key for key in ("steps", "first_density", "step_density") if key not in table.values]
        if missing:
            table.problems.append(
                f"{place(table.file, None)}: [{table.name}] has no {' and no '.join(missing)}; allowed is a list "
                "densities, or all of steps, first_density and step_density."
            )
        return ()
    return tuple(round(first + i * step, 6) for i in range(round(steps)))


def _wedge_corners(table: TomlTable) -> tuple[tuple[float, float], ...]:
    """Return four corners or two centres, written as pairs or as numbers in a row. [px]"""
    value = table.take("corners")
    listed = value if isinstance(value, list) else []
    flat = [number for entry in listed for number in (entry if isinstance(entry, list) else [entry])]
    if len(flat) in (4, 8) and all(is_number(number) for number in flat):
        numbers = [float(str(number)) for number in flat]
        return tuple(zip(numbers[::2], numbers[1::2], strict=True))
    table.report(
        "corners",
        f"is {quoted(value)}, allowed is x and y in px of the four corners of the wedge, its first step's outer side "
        "first, or of the centres of its first and last step.",
    )
    return ()


def _tolerances(table: TomlTable | None) -> tuple[Tolerance, ...]:
    """Return ``measure = allowed`` for all regions and ``[tolerances.region]`` for one."""
    if table is None:
        return ()
    found = []
    for key, value in table.values.items():
        inner = table.table(key) if isinstance(value, dict) else None
        if inner is None:
            found.append(_tolerance(table, "*", key))
        else:
            found.extend(_tolerance(inner, key, measure) for measure in inner.values)
    return tuple(tolerance for tolerance in found if tolerance is not None)


def _tolerance(table: TomlTable, region: str, measure: str) -> Tolerance | None:
    value = table.take(measure)
    if measure not in names(MEASURES):
        table.report(
            measure, "is no measure. Allowed are the columns of measurements.csv, such as line_load_um."
        )
    elif not is_number(value) or float(str(value)) <= 0:
        table.report(measure, f"is {quoted(value)}, allowed is a number above 0, in the unit of the measure.")
    else:
        return Tolerance(region, measure, float(str(value)))
    return None
