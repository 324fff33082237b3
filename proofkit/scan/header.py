"""What the head of an image file says, the same for every kind of file, and how faults of files are worded."""

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from proofkit.errors import ScanError

Kind = Literal["TIFF", "PNG", "JPEG"]

DAMAGE = (ValueError, KeyError, IndexError, TypeError, AttributeError, struct.error, RuntimeError, OverflowError,
          EOFError, ZeroDivisionError, MemoryError, AssertionError)  # fmt: skip
"""What decoders raise when a file is not what its head says; all of them mean that the file is damaged."""


@dataclass(frozen=True, slots=True)
class Header:
    """Facts of one picture in the order in which the file stores it."""

    kind: Kind
    width: int
    """Stored columns. [px]"""
    height: int
    """Stored rows. [px]"""
    bits: int
    """Of each channel."""
    channels: int
    """1 or 3, without alpha and other extra samples."""
    ppi: tuple[float, float] | None
    """Along stored rows and stored columns; None when the file names none. [px/inch]"""
    compression: str
    lossy: bool = False
    orientation: int = 1
    icc_profile: bytes | None = None
    declared_curve: str = ""
    """`sRGB`, `linear` or `gamma 2.2` when the file says so without a profile."""


def fault(path: Path, what: str, advice: str) -> ScanError:
    """Return the error for a scan: what is wrong and what is allowed, then what to do.

    >>> str(fault(Path("a.tif"), "has 12 bits per channel; 8 or 16 are read", "Save it again as 16-bit TIFF."))
    "Scan 'a.tif' has 12 bits per channel; 8 or 16 are read. Save it again as 16-bit TIFF."
    """
    return ScanError(f"Scan '{path.name}' {what}. {advice}")


def damaged(path: Path, why: str) -> ScanError:
    """Return the error for a file that breaks off or contradicts itself."""
    return fault(path, f"is damaged ({why}); a whole file is needed", "Copy it anew or scan the sheet again.")


def check_bits(path: Path, bits: int) -> None:
    """Raise ScanError unless a channel has 8 or 16 bits."""
    if bits == 1:
        raise fault(
            path,
            "has 1 bit per pixel, black or white; 8 or 16 bits of grey or colour are needed",
            "Scan the sheet again in 16-bit grey or colour.",
        )
    if bits not in {8, 16}:
        raise fault(
            path,
            f"has {bits} bits per channel; 8 or 16 are read",
            "Save it again as 16-bit TIFF, or scan the sheet again with 16 bits.",
        )


def no_cmyk(path: Path) -> ScanError:
    """Return the error for a file in printing inks."""
    return fault(
        path,
        "holds four ink channels (CMYK); grey or RGB is read",
        "Scan the sheet again as grey or RGB, as a converted file has lost the scanner's codes.",
    )


def several_pictures(path: Path, count: int) -> ScanError:
    """Return the error for a file with more than one picture."""
    return fault(
        path,
        f"holds {count} different pictures; one sheet per file is read",
        "Save each sheet as its own file.",
    )


def first_line(error: BaseException) -> str:
    """Return the first line of a decoder's message, short enough for one line."""
    text = str(error).strip() or type(error).__name__
    return text.splitlines()[0][:120]
