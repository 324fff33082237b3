"""Colour profiles written by hand after ICC.1, and files that carry them."""

import struct
from pathlib import Path

import numpy as np

from proofkit.scan import ScanFile

# Primaries of IEC 61966-2-1 adapted to D50, as s15Fixed16 profiles hold them (columns X, Y, Z of red, green, blue).
SRGB_D50 = ((0.43607, 0.22249, 0.01392), (0.38515, 0.71687, 0.09708), (0.14307, 0.06061, 0.71410))


def s15(*values: float) -> bytes:
    return struct.pack(f">{len(values)}i", *(round(value * 65536) for value in values))


def curv(*values: int) -> bytes:
    """A sampled curve; one value is a gamma times 256, none is the identity."""
    return b"curv" + bytes(4) + struct.pack(f">I{len(values)}H", len(values), *values)


def para(function: int, *numbers: float) -> bytes:
    return b"para" + bytes(4) + struct.pack(">HH", function, 0) + s15(*numbers)


def description(text: str, version: int) -> bytes:
    if version == 2:
        return b"desc" + bytes(4) + struct.pack(">I", len(text) + 1) + text.encode() + b"\0" + bytes(78)
    coded = text.encode("utf-16-be")
    return b"mluc" + bytes(4) + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(coded), 28) + coded


def profile(
    space: bytes, tags: dict[bytes, bytes], *, version=4, connection=b"XYZ ", name="hand made"
) -> bytes:
    """A whole profile of an input device."""
    white = b"XYZ " + bytes(4) + s15(0.9642, 1.0, 0.8249)
    tags = {b"desc": description(name, version), b"wtpt": white} | tags
    offset = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for signature, element in tags.items():
        table += struct.pack(">4sII", signature, offset + len(body), len(element))
        body += element + bytes(-len(element) % 4)
    head = struct.pack(">I4sBBH4s4s4s12s4s", 128 + len(table) + len(body), bytes(4), version, 0x40, 0, b"scnr", space,
                       connection, struct.pack(">6H", 2024, 1, 1, 0, 0, 0), b"acsp")  # fmt: skip
    head += bytes(68 - len(head)) + s15(0.9642, 1.0, 0.8249)
    return head + bytes(128 - len(head)) + table + body


def rgb_profile(curves, **settings) -> bytes:
    """A matrix profile with the primaries of sRGB and one curve element for each channel."""
    tags = {
        name: b"XYZ " + bytes(4) + s15(*xyz)
        for name, xyz in zip((b"rXYZ", b"gXYZ", b"bXYZ"), SRGB_D50, strict=True)
    }
    return profile(b"RGB ", tags | dict(zip((b"rTRC", b"gTRC", b"bTRC"), curves, strict=True)), **settings)


def scan_file(icc: bytes | None = None, *, channels=3, bits=8, declared="") -> ScanFile:
    """A scan that was opened, with a profile; its pixels are not looked at."""
    return ScanFile(
        Path("a.tif"), 10, 10, bits, channels, 600, 600, 1, icc, "", "none", declared_curve=declared
    )


def codes_of(count=300, seed=3):
    """Random colours, black and white among them, (count, 3) uint8."""
    codes = np.random.default_rng(seed).integers(0, 256, (count, 3)).astype(np.uint8)
    codes[0], codes[1] = 0, 255
    return codes
