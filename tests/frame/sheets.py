"""Small synthetic sheets with a known plate mark.

The mark is a rectangle in plate mm, laid by an affine map; each part (film, bevel line, embossing, rules, pencil, bed)
is a function of the exact signed distance to its edge, so the truth needs no raster.
"""

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from scipy.special import ndtr

from proofkit.scan.types import Scan, ScanFile


@dataclass(frozen=True)
class Sheet:
    """What is drawn."""

    ppi: float = 600.0
    plate_mm: tuple[float, float] = (60.0, 45.0)
    margin_mm: float = 9.0
    turn_deg: float = 0.0
    stretch: tuple[float, float] = (1.0, 1.0)
    bow_mm: float = 0.0
    film: float = 0.06
    bevel: float = 0.0
    band: float = 0.0
    """Ink and shade on the bevel: a soft band of 0.3 mm just outside the film."""
    emboss: float = 0.0
    blur_px: float = 1.0
    paper: float = 0.85
    noise: float = 0.006
    grain: float = 0.01
    bed: float | None = None
    bed_mm: float = 3.0
    shadow: float = 0.0
    rules_mm: tuple[float, ...] = ()
    hatch_mm: float | None = None
    work: str = "block"
    """Hatching in the middle: a `block` 6 mm inside the mark, with edges that vie with it, or a `disc`."""
    pencil: bool = False
    no_plate: bool = False
    hide: tuple[str, ...] = ()
    seed: int = 1
    lamp: float = 0.01


def _corners(sheet: Sheet) -> tuple[np.ndarray, np.ndarray, tuple[int, int]]:
    """Return the linear part and shift of plate mm -> px, and (height, width) of the scan."""
    per = sheet.ppi / 25.4
    a = np.deg2rad(sheet.turn_deg)
    linear = per * np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) @ np.diag(sheet.stretch)
    w, h = sheet.plate_mm
    corners = np.array([(0, 0), (w, 0), (w, h), (0, h)]) @ linear.T
    margin = sheet.margin_mm * per
    shift = margin - corners.min(axis=0)
    size = np.ceil(np.ptp(corners, axis=0) + 2 * margin).astype(int)
    return linear, shift, (int(size[1]), int(size[0]))


def true_corners(sheet: Sheet) -> np.ndarray:
    """Return the corners of the mark, clockwise from the top left. [px]"""
    linear, shift, _ = _corners(sheet)
    w, h = sheet.plate_mm
    return np.array([(0, 0), (w, 0), (w, h), (0, h)]) @ linear.T + shift


def _coordinates(sheet: Sheet) -> tuple[np.ndarray, np.ndarray]:
    linear, shift, (rows, columns) = _corners(sheet)
    back = np.linalg.inv(linear).astype(np.float32)
    px = np.arange(columns, dtype=np.float32)[None, :] - np.float32(shift[0])
    py = np.arange(rows, dtype=np.float32)[:, None] - np.float32(shift[1])
    x = back[0, 0] * px + back[0, 1] * py
    y = back[1, 0] * px + back[1, 1] * py
    if sheet.bow_mm:
        w, _ = sheet.plate_mm
        y = y - np.float32(sheet.bow_mm) * 4 * (x / w) * (1 - x / w)
    return x, y


def _felt(shape: tuple[int, int], seed: int, sigma_px: float = 1.7) -> np.ndarray:
    rng = np.random.default_rng(seed)
    grain = cv2.GaussianBlur(rng.standard_normal(shape, dtype=np.float32), (0, 0), sigma_px)
    return grain / grain.std()


def _sides(sheet: Sheet, x: np.ndarray, y: np.ndarray) -> dict[str, np.ndarray]:
    w, h = sheet.plate_mm
    return {"top": y, "right": w - x, "bottom": h - y, "left": x}


def _emboss(sheet: Sheet, sides: dict[str, np.ndarray], inside_mm: np.ndarray) -> np.ndarray:
    """Return density of a light and a dark band of 0.3 mm; the light comes from the top left."""
    total = np.zeros_like(inside_mm)
    w, h = sheet.plate_mm
    for name, sign in (("top", 1), ("left", 1), ("right", -1), ("bottom", -1)):
        if name in sheet.hide:
            continue
        distance = sides[name]
        along = sides["left"] if name in ("top", "bottom") else sides["top"]
        reach = w if name in ("top", "bottom") else h
        on = (along > -0.3) & (along < reach + 0.3)
        pair = -distance / 0.2 * np.exp(0.5 - 0.5 * (distance / 0.2) ** 2)
        total += sign * sheet.emboss * pair * on
    return total


def draw(sheet: Sheet) -> Scan:
    """Return the scan of a sheet."""
    x, y = _coordinates(sheet)
    per = sheet.ppi / 25.4
    blur_mm = sheet.blur_px / per
    w, h = sheet.plate_mm
    sides = _sides(sheet, x, y)
    inside = np.minimum.reduce(list(sides.values()))
    density = np.zeros_like(inside)
    if not sheet.no_plate:
        covered = np.ones_like(inside)
        for name, d in sides.items():
            # toward a hidden side the film was wiped away, so that it ends in nothing
            covered = covered * (
                ndtr(d / blur_mm) if name not in sheet.hide else np.clip(d / 15.0, 0, 1) ** 2
            )
        density += sheet.film * covered
        if sheet.bevel:
            inked = np.minimum.reduce([d for name, d in sides.items() if name not in sheet.hide])
            density += sheet.bevel * np.exp(-0.5 * (inked / 0.06) ** 2) * (inside > -0.3)
        density += sheet.band * np.exp(-0.5 * ((inside + 0.18) / 0.15) ** 2)
        if sheet.emboss:
            density += _emboss(sheet, sides, inside)
        for rule in sheet.rules_mm:
            density += 1.1 * np.exp(-0.5 * ((inside - rule) / 0.05) ** 2)
        if sheet.hatch_mm is not None:
            field_ = ndtr((inside - sheet.hatch_mm) / blur_mm)
            density += field_ * 1.2 * (np.sin(2 * np.pi * 5 * (x * 0.8 + y * 0.6)) > 0.3)
        elif inside.size:
            middle = np.hypot(x - w / 2, y - h / 2) < 0.35 * min(w, h) if sheet.work == "disc" else inside > 6
            density += middle * 1.0 * (np.sin(2 * np.pi * 3 * (x * 0.6 - y * 0.8)) > 0.6)
    if sheet.pencil:
        density += _pencil(sheet, x, y)
    light = sheet.paper * 10.0**-density * (1 + sheet.grain * _felt(inside.shape, sheet.seed, 0.07 * per))
    if sheet.bed is not None:
        off = sheet.margin_mm - sheet.bed_mm
        edge = np.minimum.reduce([x + off, w + off - x, y + off, h + off - y])
        share = ndtr(edge / blur_mm)
        light = light * share + sheet.bed * (1 - share)
        light = light * (1 - sheet.shadow * np.exp(-0.5 * (edge / 0.15) ** 2))
    light = light * (1 + sheet.lamp * np.linspace(-1, 1, light.shape[1], dtype=np.float32)[None, :])
    rng = np.random.default_rng(sheet.seed + 100)
    light = light + sheet.noise * rng.standard_normal(light.shape, dtype=np.float32)
    plane = np.clip(light * 65535 + 0.5, 0, 65535).astype(np.uint16)
    return as_scan(plane, sheet.ppi)


def _pencil(sheet: Sheet, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Return a title, a number and a signature below the plate, over two thirds of its width."""
    _, h = sheet.plate_mm
    w = sheet.plate_mm[0]
    written = (
        ((x > 0.05 * w) & (x < 0.3 * w)) | ((x > 0.4 * w) & (x < 0.6 * w)) | ((x > 0.7 * w) & (x < 0.97 * w))
    )
    wave = h + 3.5 + 0.9 * np.sin(2 * np.pi * x / 1.7) + 0.4 * np.sin(2 * np.pi * x / 0.63)
    return 0.5 * written * np.exp(-0.5 * ((y - wave) / 0.12) ** 2)


def as_scan(plane: np.ndarray, ppi: float) -> Scan:
    """Return a scan of a plane that was never a file."""
    rows, columns = plane.shape
    overview = (
        cv2.resize(plane, (max(1, columns // 8), max(1, rows // 8)), interpolation=cv2.INTER_AREA).astype(
            np.float32
        )
        / 65535
    )
    scan_file = ScanFile(Path("drawn.tif"), columns, rows, 16, 1, ppi, ppi, 1, None, "0" * 64, "none")
    return Scan(scan_file, plane, np.repeat(overview[..., None], 3, axis=2), 8, "linear")
