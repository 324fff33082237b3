"""A print against its drawing: which way it reads, how much of it was followed, where the print departs."""

import numpy as np

from proofkit.arrays import Floats, Mask, Points
from proofkit.drawing.accounting import Accounted
from proofkit.drawing.departing import Contrast, departures, far_runs
from proofkit.drawing.finding import FAR_SIZES, SIZES, Place, find_places
from proofkit.drawing.fitting import Target, fit_affine, is_plausible, mapped, refitted, smooth_stretch
from proofkit.drawing.following import DEPARTS_MM, FOLLOW_MM, follow
from proofkit.drawing.hatching import is_hatching
from proofkit.drawing.offered import Offers
from proofkit.drawing.types import ComparedDrawing, Contour, Courses, Fit
from proofkit.errors import ComparisonError
from proofkit.laying.types import Laying, to_sheet_px

LEAST_ABOVE_CHANCE = 0.25
"""A drawing of which less than this lies on printed lines beyond chance is another drawing: contours of another plate
reach 0.13 to 0.18 at their best place (simulated pairs). [-]"""

SURE_ABOVE_CHANCE = 0.42
"""From here on it is the right one, which reaches 0.42 and more, even weak and with lines never engraved (simulated
pairs). Between the two lie pictures of other plates that are full of hatching, as fields of parallel lines fit each
other in many places: 0.25 to 0.39 near the print's own size. [-]"""

CLEAR_MARGIN = 0.08
"""The two readings have to differ by this much above chance to be told apart without doubt. [-]"""

FLANK_POINTS = 8
"""Points beside a departing stretch that are not believed: 2.4 mm."""

LEAST_POINTS = 30
"""Fewer points on lines that follow the drawing say nothing of smooth stretch."""


def compare_drawing(
    drawing: Courses, printed: Courses, size_mm: tuple[float, float], contrast: Contrast | None = None
) -> ComparedDrawing:
    """Return how a print follows its drawing.

    Parameters
    ----------
    drawing, printed : Courses
        Lines of both in their own millimetres.
    size_mm : tuple
        Width and height of the print's plate. [mm]
    contrast : callable, optional
        Reads the print itself along a course, as `line_contrast` does: told departures are checked by it.

    Raises
    ------
    ComparisonError
        If the drawing is not found on the print.
    """
    target = Target(printed)
    direct, mirrored = _found(drawing, printed, target, size_mm)
    best = max(direct, mirrored, key=lambda fit: fit.above_chance)
    is_clear = abs(mirrored.above_chance - direct.above_chance) >= CLEAR_MARGIN
    is_sure = best.above_chance >= SURE_ABOVE_CHANCE
    if best.above_chance < LEAST_ABOVE_CHANCE or not (is_sure or is_clear):
        raise ComparisonError(_not_found(best))
    # Points may lie left of or above the drawing's corner only by rounding: lines keep off the edge of the scan.
    extent = tuple(float(reach) + 1.0 for reach in drawing.points_mm.max(axis=0))
    laying = smooth_stretch(drawing, target, best.affine, (extent[0], extent[1]))
    offers = Offers(printed, is_hatching(printed))
    hatches = is_hatching(drawing)
    laying = _without_departures(_contours(drawing, hatches, offers, laying), laying, (extent[0], extent[1]))
    contours = _contours(drawing, hatches, offers, laying)
    # Followed once more, now that it is known which printed lines are those of other drawn ones.
    contours = _contours(drawing, hatches, offers.claimed(contours), laying)
    known = np.concatenate([contour.stretch_mm for contour in contours])
    length = sum(contour.length_mm for contour in contours)
    covered = sum(contour.length_mm * contour.covered_fraction for contour in contours) / length
    scale_x, scale_y, shear, turn = taken_apart(laying.affine)
    remarks = []
    if not is_sure:
        remarks.append(
            f"Only {100 * best.above_chance:.0f} % of the drawing lies on printed lines beyond chance; hatching of "
            "another plate can reach as much. Look at both pictures before you believe that they belong together."
        )
    if not is_clear:
        remarks.append("Read mirrored and read direct, the drawing fits about equally: look at both.")
    return ComparedDrawing(
        reading="mirrored" if best is mirrored else "direct",
        fits=(direct, mirrored),
        laying=laying,
        contours=contours,
        departures=tuple(departures(contours, Accounted(contours, printed, offers.hatching), contrast)),
        covered_fraction=covered,
        scale_x=scale_x,
        scale_y=scale_y,
        shear=shear,
        rotation_deg=turn,
        stretch_mm=float(np.sqrt(np.mean(known**2))),
        size_mm=size_mm,
        remarks=tuple(remarks),
    )


def _found(
    drawing: Courses, printed: Courses, target: Target, size_mm: tuple[float, float]
) -> tuple[Fit, Fit]:
    """Return the best fits read direct and mirrored, at sizes far from the print's own only where none near it does."""
    for sizes in (SIZES, FAR_SIZES):
        direct, mirrored = (
            _best_fit(drawing, target, find_places(drawing, printed, size_mm, mirrored=turned, sizes=sizes))
            for turned in (False, True)
        )
        if max(direct.above_chance, mirrored.above_chance) >= LEAST_ABOVE_CHANCE:
            break
    return direct, mirrored


def _not_found(best: Fit) -> str:
    return (
        f"The drawing is not found on the print: {100 * best.covered_fraction:.0f} % of its line lies on printed "
        f"lines at the best place, {100 * best.chance_fraction:.0f} % would by chance. "
        "It belongs to another plate, or shows too little of it: give the drawing of this plate."
    )


def _best_fit(drawing: Courses, target: Target, places: list[Place]) -> Fit:
    fits = [fit_affine(drawing, target, place.affine) for place in places]
    sound = [fit for fit in fits if is_plausible(fit.affine)] or [Fit(fits[0].affine, 0.0, 0.0)]
    return max(sound, key=lambda fit: fit.above_chance)


def taken_apart(affine: Floats) -> tuple[float, float, float, float]:
    """Return scale along x and y, shear, and turn counter-clockwise in degrees of a map; a mirror is taken off first.

    >>> taken_apart(np.array([[-1.02, 0.0, 5.0], [0.0, 0.98, 0.0]]))
    (1.02, 0.98, 0.0, -0.0)
    """
    m = affine[:, :2]
    if np.linalg.det(m) < 0:
        m = m @ np.diag([-1.0, 1.0])
    angle = float(np.arctan2(m[1, 0], m[0, 0]))
    cos, sin = np.cos(angle), np.sin(angle)
    rest = np.array([[cos, sin], [-sin, cos]]) @ m
    return (
        float(np.hypot(m[0, 0], m[1, 0])),
        float(rest[1, 1]),
        float(rest[0, 1] / rest[1, 1]),
        float(-np.degrees(angle)),
    )


def _contours(drawing: Courses, hatches: Mask, offers: Offers, laying: Laying) -> tuple[Contour, ...]:
    straight, direction = mapped(drawing, laying.affine)
    bent = to_sheet_px(laying, drawing.points_mm)
    size = laying.px_per_mm
    made: list[Contour] = []
    starts = np.flatnonzero(np.diff(drawing.line, prepend=-1))
    for start, stop in zip(starts, [*starts[1:], len(drawing.line)], strict=True):
        length = float(drawing.length_mm[start:stop].sum())
        every = max(round(FOLLOW_MM * (stop - start) / max(length, 1e-6)), 1)
        at = np.arange(start, stop, every)
        normals = _on_one_side(np.column_stack((-np.sin(direction[at]), np.cos(direction[at]))))
        offered = offers.to(len(made), bent[at], hatches=bool(hatches[start]))
        departure = follow(bent[at], normals, direction[at], offered)
        made.append(
            Contour(
                drawn_mm=drawing.points_mm[at],
                points_mm=straight[at],
                length_mm=length * size,
                stretch_mm=((bent[at] - straight[at]) * normals).sum(axis=1),
                departure_mm=departure,
                normals=normals,
                covered_fraction=float(np.isfinite(departure).mean()),
                hatches=bool(hatches[start]),
            )
        )
    return tuple(made)


def _on_one_side(normals: Points) -> Points:
    """Return normals of the points of a line turned so that all show to the same side of it.

    Directions are known to half a turn only: where a line turns past that, its normals would change sides, and a
    passage that was moved to one side would seem to jump to the other.
    """
    turns = (normals[1:] * normals[:-1]).sum(axis=1) < 0
    sign = np.concatenate(([1.0], np.where(np.cumsum(turns) % 2, -1.0, 1.0)))
    return np.asarray(normals * sign[:, None])


def _without_departures(
    contours: tuple[Contour, ...], laying: Laying, extent_mm: tuple[float, float]
) -> Laying:
    """Return the map with the smooth stretch fitted anew to all that follows the drawing, and to nothing else."""
    keeps = []
    for contour in contours:
        keep = np.abs(contour.departure_mm) <= DEPARTS_MM
        for run in far_runs(contour.departure_mm):
            # Its flanks lean towards it.
            keep[max(run[0] - FLANK_POINTS, 0) : run[-1] + FLANK_POINTS + 1] = False
        keeps.append(keep)
    drawn = np.concatenate([contour.drawn_mm[keep] for contour, keep in zip(contours, keeps, strict=True)])
    normals = np.concatenate([contour.normals[keep] for contour, keep in zip(contours, keeps, strict=True)])
    across = np.concatenate(
        [contour.departure_mm[keep] for contour, keep in zip(contours, keeps, strict=True)]
    )
    if len(drawn) < LEAST_POINTS:
        return laying
    return refitted(laying, drawn, across, normals, extent_mm)
