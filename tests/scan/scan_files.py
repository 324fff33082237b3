"""Small image files with known pixels, and tone curves that leave codes as they are."""

import struct
import zlib
from pathlib import Path

import numpy as np
import tifffile

from proofkit.scan import ToneCurve

WEIGHTS = np.array([0.2126, 0.7152, 0.0722])


def linear_curve(bits: int, channels: int) -> ToneCurve:
    """Code 0 is black, the last code is white, with a straight line between."""
    line = np.linspace(0, 1, 1 << bits, dtype=np.float32)
    return ToneCurve(np.tile(line, (channels, 1)), (1.0,) if channels == 1 else tuple(WEIGHTS), "linear")


def pixels(bits: int, samples: int, shape=(201, 133), seed=1):
    """Random codes over the whole range; (rows, columns) for one sample, else (rows, columns, samples)."""
    codes = np.random.default_rng(seed).integers(0, 1 << bits, (*shape, samples)).astype(f"u{bits // 8}")
    return codes[:, :, 0] if samples == 1 else codes


def plane_of(codes, bits):
    """Luminance that these codes mean, by floating point: the value that the plane is a rounding of."""
    share = codes.astype(np.float64) / ((1 << bits) - 1)
    return 65535 * (share if codes.ndim == 2 or codes.shape[2] < 3 else share[..., :3] @ WEIGHTS)


def write_tiff(path: Path, codes, *, byteorder="<", bigtiff=False, ppi=600, **settings) -> Path:
    """Write one picture as TIFF with tifffile."""
    settings.setdefault("photometric", "minisblack" if codes.ndim == 2 else "rgb")
    if ppi is not None:
        settings |= {"resolution": (ppi, ppi), "resolutionunit": settings.get("resolutionunit", "inch")}
    if settings.get("planarconfig") == "separate":
        codes = np.moveaxis(codes, 2, 0)
    with tifffile.TiffWriter(path, byteorder=byteorder, bigtiff=bigtiff) as file:
        file.write(codes, metadata=None, **settings)
    return path


def png_chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png_bytes(width, height, bits, colour_type, rows: bytes, sides: bytes = b"", *, interlaced=0) -> bytes:
    """A PNG file from filtered rows, written by hand after the specification."""
    head = struct.pack(">IIBBBBB", width, height, bits, colour_type, 0, 0, interlaced)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", head)
        + sides
        + png_chunk(b"IDAT", zlib.compress(rows))
        + png_chunk(b"IEND", b"")
    )


def phys(ppi: float) -> bytes:
    """The resolution chunk of PNG, in pixels per metre."""
    return png_chunk(b"pHYs", struct.pack(">IIB", round(ppi / 0.0254), round(ppi / 0.0254), 1))
