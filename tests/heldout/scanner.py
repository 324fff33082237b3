"""Light to codes in a TIFF: lamp, noise, tone curve, depth, colour."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import tifffile

Floats32 = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Capture:
    """How the whole edition was scanned."""

    ppi: int
    curve: str
    """`sRGB`, `linear` or `gamma x` as edition.toml writes it."""
    bits: int
    channels: int
    noise: float
    """Standard deviation at white, as a share of white."""
    blur_um: float
    compression: str | None
    lamp: float
    """Fall-off of the lamp toward the ends of the bed, relative."""


def encode(light: Floats32, curve: str) -> Floats32:
    """Return codes 0 to 1; sRGB by the formula of IEC 61966-2-1."""
    light = np.clip(light, 0, 1)
    if curve == "linear":
        return light
    if curve == "sRGB":
        return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.power(light, 1 / 2.4) - 0.055).astype(
            np.float32
        )
    return np.power(light, 1 / float(curve.split()[1])).astype(np.float32)


def lamp(shape: tuple[int, int], fall: float) -> tuple[Floats32, Floats32]:
    """Return the lamp's level along rows and along columns; their product is the light."""
    rows, columns = shape
    y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None]
    x = np.linspace(-1, 1, columns, dtype=np.float32)[None, :]
    return np.cos(np.sqrt(2 * fall) * y), 1 + 0.5 * fall * x


def write_scan(path: Path, light: Floats32, capture: Capture, tints: list[tuple[float, float]]) -> None:
    """Write a scan.

    Parameters
    ----------
    light : (h, w)
        Linear luminance against the scanner's white, 0 to 1.
    tints : list of (paper, ink)
        For each channel: factor of the paper's level, and exponent of the ink's transmission.
    """
    top = 255 if capture.bits == 8 else 65535
    kind = np.uint8 if capture.bits == 8 else np.uint16
    along, across = lamp(light.shape, capture.lamp)
    codes = np.empty((*light.shape, len(tints)), kind)
    for k, (paper, power) in enumerate(tints):
        channel = light.copy() if power == 1.0 else np.power(light, power, dtype=np.float32)
        channel *= paper
        channel *= along
        channel *= across
        noise = np.empty(light.shape, np.float32)
        cv2.randn(noise, 0, 1)
        channel += noise * (capture.noise * np.sqrt(0.15 + 0.85 * np.clip(channel, 0, 1)))
        values = encode(channel, capture.curve) * top
        codes[..., k] = np.clip(values + 0.5, 0, top).astype(kind)
    tifffile.imwrite(
        path,
        codes[..., 0] if len(tints) == 1 else codes,
        photometric="minisblack" if len(tints) == 1 else "rgb",
        resolution=(capture.ppi, capture.ppi),
        resolutionunit="INCH",
        compression=capture.compression,
        predictor=capture.compression is not None,
        metadata=None,
        rowsperstrip=64,
    )
