"""What one pull did with the plate: ink in every stroke, film on the ground, and what went wrong.

The magnitudes of faults are choices, set so that a printer would see strength 1.0 at arm's length and 0.6 on a
second look; the directions are common practice of the trade.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.heldout.fields import Array, Waves, random_waves, value
from tests.heldout.plate import Plate

HAND_INK = 0.03
HAND_WIDTH = 0.03
HAND_FILM_DENSITY = 0.010
"""Standard deviations from pull to pull: of core density and of line width (relative), of the film [D]."""

EDGE_UM = 9.0
"""Width of the thinner film at both edges of a line. [µm]"""

EDGE_SHARE = 0.5
"""Density of that edge against the core."""


@dataclass(frozen=True, slots=True, eq=False)
class Recipe:
    """What all pulls of the edition share."""

    film_density: float
    edge_film: float
    """Extra film toward the edges of the plate, at the corner. [D]"""
    core_density: float
    film_course: Waves
    film_course_density: float


@dataclass(slots=True, eq=False)
class Impression:
    """One pull: stroke by stroke, and on the ground."""

    width_um: Array
    core: Array
    """(n,) density of the core above bare paper, 0 = does not print."""
    tone_ink: float = 1.0
    """Density of the ink in areas of tone against the copper's own."""
    film_offset: float = 0.0
    film_scale: float = 1.0
    film_parts: list[tuple[str, float, tuple[object, ...]]] = field(default_factory=list)
    skirt_density: float = 0.0
    skirt_um: float = 0.0
    burr: float = 1.0
    clog: tuple[str, float] | None = None
    """Field whose gaps are shut, density of the shut gaps."""
    double: tuple[float, float, float] | None = None
    """Shift x, y [mm], share of density."""
    crease: tuple[Array, Array, float, float] | None = None
    """Point, unit normal [mm], jump [mm], width of the slit [mm]."""
    specks: Array | None = None
    """(k, 3) x, y, radius [mm]."""
    bevel_density: float = 0.03
    emboss: float = 1.0
    set_off_density: float = 0.0
    grain: float = 0.0
    """Share of the ink lost at the scale of paper grain."""
    exposure: float = 1.0
    wrong_gamma: float = 1.0
    tint: tuple[float, float, float] = (1.0, 1.0, 1.0)
    """Density of ink seen in red, green and blue against its visual density."""
    embossing_note: str = ""
    regions: list[str] = field(default_factory=list)
    """Fields a local fault touches; empty = all."""


def film(plate: Plate, recipe: Recipe, pull: Impression, points_mm: Array) -> Array:
    """Return the density of the film above bare paper at (n, 2) plate points."""
    x = points_mm[:, 0] / plate.width_mm - 0.5
    y = points_mm[:, 1] / plate.height_mm - 0.5
    density = recipe.film_density + recipe.edge_film * 2 * (x**2 + y**2)
    density = density + recipe.film_course_density * value(recipe.film_course, points_mm)
    density = pull.film_scale * (density + pull.film_offset)
    for kind, amount, about in pull.film_parts:
        if kind == "press":
            density = density * (1 - amount * (0.5 + _part("ramp", about, points_mm, x, y)))
        else:
            density = density + amount * _part(kind, about, points_mm, x, y)
    return np.maximum(density, 0.0)


def _part(kind: str, about: tuple[object, ...], points_mm: Array, x: Array, y: Array) -> Array:
    if kind == "waves":
        return value(about[0], points_mm)  # type: ignore[arg-type]
    if kind == "ramp":
        turn = float(about[0])  # type: ignore[arg-type]
        return x * np.cos(turn) + y * np.sin(turn)
    if kind == "patch":
        centre, reach = about
        return np.exp(-0.5 * ((points_mm - np.asarray(centre)) ** 2).sum(axis=1) / float(reach) ** 2)  # type: ignore[arg-type]
    # Bands along arcs about a far centre, uneven in strength: the last strokes of a loaded cloth.
    centre, pitch, waves = about
    r = np.hypot(*(points_mm - np.asarray(centre)).T)
    return np.sin(2 * np.pi * r / float(pitch) + 0.8 * value(waves, points_mm))  # type: ignore[arg-type]


def sound_pull(plate: Plate, recipe: Recipe, rng: np.random.Generator) -> Impression:
    """Return a good pull with the natural variation of a hand."""
    strokes = plate.strokes
    pull = Impression(
        strokes.width_um * (1 + HAND_WIDTH * rng.standard_normal()),
        (recipe.core_density * (0.72 + 0.28 * strokes.depth)) * (1 + HAND_INK * rng.standard_normal()),
    )
    # Two thirds of the variance of the film is of the whole sheet, one third wanders over the plate.
    pull.film_offset = HAND_FILM_DENSITY * np.sqrt(2 / 3) * rng.standard_normal()
    course = random_waves(rng, 45.0)
    pull.film_parts.append(("waves", HAND_FILM_DENSITY * np.sqrt(1 / 3), (course,)))
    patch = value(random_waves(rng, 20.0), strokes.points_mm)
    pull.core = pull.core * (1 + 0.01 * patch)
    pull.emboss = float(1 + 0.06 * rng.standard_normal())
    return pull


def _under_inked(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """Starved stretches in deep and shallow lines alike, in blotches; the film stays."""
    points = plate.strokes.points_mm
    blotch = value(random_waves(rng, 14.0), points)
    along = 0.8 * value(random_waves(rng, 0.9, 40), points) + 0.6 * value(random_waves(rng, 3.0, 40), points)
    loss = np.clip(0.16 + 0.13 * blotch, 0, 0.5) * s
    pull.core = pull.core * (1 - loss)
    pull.width_um = pull.width_um * (1 - 0.35 * loss)
    pull.core = np.where(along > 1.9 - 0.9 * s - 0.45 * s * blotch, 0.06 * pull.core, pull.core)


def _overwiped(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """Film down to the paper, shallow work robbed most, most where the hand went last."""
    points = plate.strokes.points_mm
    hand = 1 + 0.35 * value(random_waves(rng, 40.0), points)
    loss = np.clip(s * hand * (0.42 - 0.36 * plate.strokes.depth), 0, 0.8)
    pull.core = pull.core * (1 - loss)
    pull.width_um = pull.width_um * (1 - 0.3 * loss)
    pull.film_scale *= 1 - 0.9 * s


def _underwiped(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """A veil, thicker on one side; lines a little full."""
    pull.film_offset += 0.055 * s
    pull.film_parts.append(("ramp", 0.03 * s, (rng.uniform(0, 2 * np.pi),)))
    pull.width_um = pull.width_um * (1 + 0.05 * s)


def _wipe_streaks(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    turn = rng.uniform(0, 2 * np.pi)
    far = rng.uniform(1.5, 4) * plate.width_mm
    centre = (plate.width_mm / 2 + far * np.cos(turn), plate.height_mm / 2 + far * np.sin(turn))
    about = (centre, rng.uniform(2.0, 4.5), random_waves(rng, 25.0))
    pull.film_parts.append(("bands", 0.032 * s, about))
    pull.film_offset += 0.012 * s


def _uneven_wiping(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """Film left on one side and in a patch, with no regard to the lines."""
    turn = rng.uniform(0, 2 * np.pi)
    pull.film_parts.append(("ramp", 0.08 * s, (turn,)))
    centre = rng.uniform((0.2, 0.2), (0.8, 0.8)) * [plate.width_mm, plate.height_mm]
    pull.film_parts.append(("patch", 0.05 * s, (tuple(centre), 0.2 * min(plate.width_mm, plate.height_mm))))


def _retroussage(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    pull.skirt_density = 0.11 * s
    pull.skirt_um = float(rng.uniform(110, 170))
    pull.core = pull.core * (1 - 0.03 * s)
    pull.width_um = pull.width_um * (1 + 0.05 * s)


def _clogged(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    dense = [f.name for f in plate.fields if f.note in {"cross", "fine"}]
    name = str(rng.choice([n for n in dense if "cross" in n] or dense))
    pull.clog = (name, 0.28 * s)
    pull.regions = [name]


def _low_pressure(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """Ink and film come off the plate in the same too small share."""
    pull.core = pull.core * (1 - 0.24 * s)
    pull.width_um = pull.width_um * (1 - 0.12 * s)
    pull.film_scale *= 1 - 0.45 * s
    pull.emboss *= 1 - 0.5 * s
    pull.embossing_note = "weak"


def _uneven_pressure(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    points = plate.strokes.points_mm
    axis = int(rng.integers(0, 2))
    t = points[:, axis] / (plate.width_mm, plate.height_mm)[axis]
    side = int(rng.integers(0, 2))
    t = t if side == 0 else 1 - t
    pull.core = pull.core * (1 - 0.38 * s * t)
    pull.width_um = pull.width_um * (1 - 0.18 * s * t)
    turn = (0.0, np.pi / 2)[axis] + np.pi * (side == 1)
    pull.film_parts.append(("press", 0.6 * s, (turn,)))
    pull.emboss *= 1 - 0.25 * s
    pull.embossing_note = "weak " + (("right", "left"), ("foot", "head"))[axis][side]


def _dry_paper(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """The grain of the sheet does not reach into the grooves: broken at grain scale, embossing as ever."""
    grain = value(random_waves(rng, 0.45, 60), plate.strokes.points_mm)
    loss = np.clip(0.10 + 0.26 * grain, 0, 0.9) * s
    pull.core = pull.core * (1 - loss) * (1 - 0.08 * s)
    pull.width_um = pull.width_um * (1 - 0.25 * loss)
    pull.grain = 0.3 * s
    pull.film_scale *= 1 - 0.25 * s


def _doubled(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    turn = rng.uniform(0, 2 * np.pi)
    shift = rng.uniform(0.14, 0.34)
    pull.double = (shift * np.cos(turn), shift * np.sin(turn), 0.42 * s)


def _crease(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    point = rng.uniform((0.3, 0.3), (0.7, 0.7)) * [plate.width_mm, plate.height_mm]
    turn = rng.uniform(0, np.pi)
    pull.crease = (point, np.array([np.cos(turn), np.sin(turn)]), 0.16 * s, 0.22 * s)


def _specks(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    count = int(rng.integers(25, 60) * s)
    where = rng.uniform((1, 1), (plate.width_mm - 1, plate.height_mm - 1), (count, 2))
    pull.specks = np.column_stack((where, rng.uniform(0.06, 0.28, count)))


def _bevel_ink(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    pull.bevel_density += 0.3 * s


def _set_off(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    pull.set_off_density = 0.09 * s


def _ink_batch(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """Another mixing: browner, a little thinner, from one pull on."""
    pull.tint = (1 - 0.12 * s, 1.0, 1 + 0.10 * s)
    pull.core = pull.core * (1 - 0.12 * s)


def _scan(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    """The scanner was set otherwise: margin and print move together."""
    pull.exposure = 1 - 0.10 * s
    pull.wrong_gamma = 1 + 0.14 * s


def _burr_loss(plate: Plate, pull: Impression, s: float, rng: np.random.Generator) -> None:
    pull.burr *= 1 - 0.85 * s
    pull.regions = [f.name for f in plate.fields if f.note == "burr"]


def wear(plate: Plate, pull: Impression, s: float) -> None:
    """Take the surface of the copper down: shallow lines thin first."""
    loss = s * (0.34 - 0.26 * plate.strokes.depth)
    pull.width_um = pull.width_um * (1 - 0.8 * loss)
    pull.core = pull.core * (1 - 0.5 * loss)


FAULTS = {
    "under-inked": _under_inked,
    "overwiped": _overwiped,
    "underwiped": _underwiped,
    "wipe streaks": _wipe_streaks,
    "uneven wiping": _uneven_wiping,
    "retroussage": _retroussage,
    "clogged hatching": _clogged,
    "low pressure": _low_pressure,
    "uneven pressure": _uneven_pressure,
    "dry paper": _dry_paper,
    "doubled": _doubled,
    "crease": _crease,
    "specks": _specks,
    "bevel ink": _bevel_ink,
    "set-off": _set_off,
    "scan": _scan,
}
"""Faults of a single pull; `plate wear`, `burr loss` and `ink batch` run over pulls and are laid on by the edition."""

COURSES = {"burr loss": _burr_loss, "ink batch": _ink_batch}
