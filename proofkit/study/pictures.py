"""Which figures a study gets, and what stands below them."""

import re
from pathlib import Path

import numpy as np
import pandas as pd

from proofkit.errors import FolderError
from proofkit.study.drawing import course_figure, residual_figure, response_figure, save, tilt_figure
from proofkit.study.experiment import Factor
from proofkit.study.found import Found
from proofkit.study.naming import response_word
from proofkit.study.parts import ALL, ORDER
from proofkit.study.strips import Strip

MOST_FIGURES = 12
"""Figures of responses; everything else stands in the tables. [-]"""


def draw_all(found: Found, folder: Path) -> dict[str, Path]:
    """Draw the figures of a study and return caption -> path without ending.

    Raises
    ------
    FolderError
        If a file cannot be written.
    """
    try:
        return _responses(found, folder) | _strips(found, folder) | _tilts(found, folder)
    except OSError as error:
        raise FolderError(
            f"Figures cannot be written to {folder} ({error.strerror}). Make room, or choose another folder with --out."
        ) from error


def _responses(found: Found, folder: Path) -> dict[str, Path]:
    made: dict[str, Path] = {}
    factors = found.experiment.factors
    for (response, region), (table, fitted) in list(found.analysis.fits.items())[:MOST_FIGURES]:
        place = "" if region == ALL else f" in {region}"
        main, other = _axes_of(factors, table)
        shows_model = len(factors) <= 2 and fitted.model == "linear"
        level = np.exp(fitted.fitted) if response in found.settings.relative else fitted.fitted
        stem = folder / file_name(response, region)
        save(response_figure(table, response, main, other, level if shows_model else None), stem)
        model = ", with the fitted model" if shows_model else ""
        made[f"{response_word(response)}{place} against {main.label}{model}."] = stem
        left = folder / f"{stem.name}_left_over"
        order = table[ORDER].to_numpy(dtype=np.float64)
        save(residual_figure(fitted.fitted, fitted.residuals, order, response), left)
        made[f"{response_word(response)}{place}: what the model leaves over."] = left
    return made


def _tilts(found: Found, folder: Path) -> dict[str, Path]:
    made: dict[str, Path] = {}
    for plate, tilt in found.tilts:
        stem = folder / file_name("tipped", f"{plate} {tilt.region}")
        save(tilt_figure(tilt), stem)
        where = f"{plate}, {tilt.region}" if plate else tilt.region
        made[f"{where}: slope of the density on each pull, and what they share (arrow)."] = stem
    return made


def _strips(found: Found, folder: Path) -> dict[str, Path]:
    made: dict[str, Path] = {}
    together: dict[tuple[str, str], list[Strip]] = {}
    for strip in found.strips:
        together.setdefault((strip.response, strip.region), []).append(strip)
    for (response, region), group in together.items():
        time = next(one for one in found.experiment.factors if one.name == found.settings.bite_time)
        stem = folder / file_name(f"bite_{response}", region)
        save(course_figure([(s.bath, s.times, s.readings, s.course) for s in group], response, time), stem)
        place = "" if region == ALL else f" in {region}"
        made[f"{response_word(response)}{place} over time in the bath, with the course that never falls."] = (
            stem
        )
    return made


def _axes_of(factors: tuple[Factor, ...], table: pd.DataFrame) -> tuple[Factor, Factor | None]:
    """Return the factor along the axis (a number if there is one) and the one told apart by shape."""
    varying = [factor for factor in factors if len(set(table[factor.name])) > 1]
    numbers = [factor for factor in varying if factor.kind == "number"]
    main = numbers[0] if numbers else varying[0]
    others = [factor for factor in varying if factor is not main]
    words = [factor for factor in others if factor.kind == "word"]
    return main, words[0] if words else next(iter(others), None)


def file_name(*parts: str) -> str:
    """Return a plain file name.

    >>> file_name("line_load_um", "sky, left")
    'line_load_um_sky_left'
    """
    return re.sub(r"[^a-z0-9]+", "_", "_".join(parts).casefold()).strip("_") or "figure"
