"""Areas of change: ground on which strokes of one kind lie close together."""

from collections.abc import Sequence

import cv2
import numpy as np

from proofkit.states.types import Change, ChangedArea, ChangeKind

CELL_MM = 0.1
"""Cells in which strokes are gathered. [mm]"""

REACH_MM = 0.6
"""Strokes no further apart than twice this lie on one area: the widest gap of open hatching is about 1 mm. [mm]"""

LEAST_STROKES = 3
"""Fewer strokes are strokes, not an area."""


def changed_areas(changes: Sequence[Change], size_mm: tuple[float, float]) -> list[ChangedArea]:
    """Return the areas on which at least three strokes changed in the same way, largest first.

    Parameters
    ----------
    changes : sequence of Change
    size_mm : tuple
        Width and height of the plate. [mm]
    """
    kinds = dict.fromkeys(change.kind for change in changes)
    found = [area for kind in kinds for area in _areas_of(kind, changes, size_mm)]
    return sorted(found, key=lambda area: -area.area_mm2)


def _areas_of(kind: ChangeKind, changes: Sequence[Change], size_mm: tuple[float, float]) -> list[ChangedArea]:
    mine = [change for change in changes if change.kind == kind]
    shape = (int(size_mm[1] / CELL_MM) + 2, int(size_mm[0] / CELL_MM) + 2)
    drawn = np.zeros(shape, dtype=np.uint8)
    for change in mine:
        line = np.rint(change.points_mm / CELL_MM).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(drawn, [line], isClosed=False, color=1, thickness=1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(REACH_MM / CELL_MM) + 1,) * 2)
    # Closed, not grown: the area ends at its outermost strokes.
    filled = cv2.morphologyEx(np.pad(drawn, disc.shape[0]), cv2.MORPH_CLOSE, disc)
    filled = filled[disc.shape[0] : -disc.shape[0], disc.shape[0] : -disc.shape[0]]
    count, labels = cv2.connectedComponents(filled)
    middles = np.array([change.points_mm[len(change.points_mm) // 2] for change in mine])
    at = np.clip(np.rint(middles / CELL_MM).astype(np.intp), 0, np.array(shape[::-1]) - 1)
    owner = labels[at[:, 1], at[:, 0]]
    areas = []
    for label in range(1, count):
        inside = np.flatnonzero(owner == label)
        if len(inside) < LEAST_STROKES:
            continue
        mask = (labels == label).astype(np.uint8)
        outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        outline = max(outlines, key=cv2.contourArea)[:, 0, :].astype(np.float64) * CELL_MM
        if len(outline) < 3:
            continue
        areas.append(
            ChangedArea(
                kind=kind,
                outline_mm=outline,
                area_mm2=float(mask.sum()) * CELL_MM**2,
                strokes=len(inside),
                length_mm=float(sum(mine[k].length_mm for k in inside)),
            )
        )
    return areas
