"""Areas of tone: ground bitten through resin dust, which prints as a mesh of ink without lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon

from tests.heldout.fields import Array
from tests.heldout.geometry import SheetMap, to_mm

Floats32 = npt.NDArray[np.float32]

PITCH_MM = 0.02
"""Pitch at which the mesh is drawn on the copper."""

LOOK_UP_PX = 8
"""Every so many pixels the map of the sheet is worked out; between them it is straight."""


@dataclass(frozen=True, slots=True, eq=False)
class Tone:
    """One bitten area of the copper."""

    outline: Polygon
    coverage: float
    """Share of its ground that holds ink."""
    density: float
    """Of the ink in it [D]."""
    grain_mm: float
    """Size of the grains that were stopped out."""
    seed: int
    """Of the dust: the same area has the same mesh in every state and on every pull."""


def tone_density(
    tones: Sequence[Tone], size_mm: tuple[float, float], m: SheetMap, shape: tuple[int, int], ink: float
) -> Floats32:
    """Return the density of all areas on the pixels of a scan, the densities of their ink times `ink`. [D]"""
    width, height = size_mm
    light = np.ones((int(height / PITCH_MM) + 1, int(width / PITCH_MM) + 1), np.float32)
    for tone in tones:
        light *= 1 - _mesh(tone, light.shape) * (1 - 10 ** (-tone.density * ink))
    light = cv2.GaussianBlur(light, (0, 0), 0.6)
    x, y = _plate_mm_of_px(m, shape)
    seen = cv2.remap(
        light, x / PITCH_MM, y / PITCH_MM, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=1.0
    )
    return np.asarray(-np.log10(np.maximum(seen, 1e-3)), dtype=np.float32)


def _mesh(tone: Tone, shape: tuple[int, int]) -> Floats32:
    """Return which share of each cell of the copper holds ink."""
    rng = np.random.default_rng([tone.seed, 97])
    dust = cv2.GaussianBlur(
        rng.standard_normal(shape).astype(np.float32), (0, 0), tone.grain_mm / 4 / PITCH_MM
    )
    bitten = (dust < np.quantile(dust, tone.coverage)).astype(np.float32)
    inside = np.zeros(shape, np.float32)
    cv2.fillPoly(inside, [np.rint(np.array(tone.outline.exterior.coords) / PITCH_MM).astype(np.int32)], 1.0)
    return np.asarray(bitten * inside)


def _plate_mm_of_px(m: SheetMap, shape: tuple[int, int]) -> tuple[Floats32, Floats32]:
    h, w = shape
    i, j = np.arange(0, h + LOOK_UP_PX, LOOK_UP_PX), np.arange(0, w + LOOK_UP_PX, LOOK_UP_PX)
    nodes = np.stack([g.ravel() for g in np.meshgrid(j, i)], axis=1).astype(np.float64)
    mm = to_mm(m, nodes).reshape(len(i), len(j), 2).astype(np.float32)
    at = np.meshgrid(np.arange(w, dtype=np.float32) / LOOK_UP_PX, np.arange(h, dtype=np.float32) / LOOK_UP_PX)
    spread = cv2.remap(mm, *at, cv2.INTER_LINEAR)
    return np.ascontiguousarray(spread[..., 0]), np.ascontiguousarray(spread[..., 1])


def blob(rng: np.random.Generator, centre: Array, radius_mm: float) -> Polygon:
    """Return a rounded uneven outline of about `radius_mm`."""
    turn = np.arange(0, 2 * np.pi, 0.1)
    r = radius_mm * (
        1 + sum(rng.normal(0, 0.12 / k) * np.cos(k * turn + rng.uniform(0, 6)) for k in (1, 2, 3))
    )
    return Polygon(centre + np.stack((r * np.cos(turn), 0.8 * r * np.sin(turn)), axis=1))
