"""Open a scan file: find out what it is from its content, and refuse what cannot be measured, in one line."""

import math
from collections.abc import Callable
from pathlib import Path

from proofkit.errors import ScanError
from proofkit.quality import Quality
from proofkit.scan import jpeg, png
from proofkit.scan.hashing import file_hash, file_stamp
from proofkit.scan.header import Header, fault
from proofkit.scan.jpeg import jpeg_header
from proofkit.scan.orientation import TURNED
from proofkit.scan.png import png_header
from proofkit.scan.tiff import tiff_header
from proofkit.scan.types import ScanFile

PPI_MIN = 50.0
"""Lowest resolution that is believed: a 100 µm line is then a fifth of a pixel wide. [px/inch]"""

PPI_MAX = 20000.0
"""Highest resolution that is believed: a pixel of 1.3 µm, beyond any optics for paper. [px/inch]"""

PPI_LOW = 300.0
"""Below this line measures are doubtful: 600 ppi is asked for lines, 300 for tone. [px/inch] Common practice."""

PIXELS_MAX = 2_000_000_000
"""Largest sheet: 4 GB of plane, an A0 sheet at 1200 ppi. [px]"""

_MARKS: tuple[tuple[bytes, Callable[[Path], Header]], ...] = (
    (b"II*\0", tiff_header),
    (b"MM\0*", tiff_header),
    (b"II+\0", tiff_header),
    (b"MM\0+", tiff_header),
    (png.SIGNATURE, png_header),
    (jpeg.SIGNATURE, jpeg_header),
)
"""How the files that are read begin."""

_OTHERS = (
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"%PDF", "a PDF document"),
    (b"\0\0\0\x0cjP  ", "a JPEG 2000 picture"),
    (b"RIFF", "a WebP picture or a sound"),
)
"""How some files begin that are not read, to name them in the error."""

_ENDINGS = {"TIFF": {".tif", ".tiff"}, "PNG": {".png"}, "JPEG": {".jpg", ".jpeg", ".jpe"}}


def open_scan(path: Path, *, ppi: float | None = None) -> ScanFile:
    """Return what a scan file says about itself, after checking that it can be measured.

    Parameters
    ----------
    path : Path
        TIFF, PNG or JPEG; known by its content, not its name.
    ppi : float, optional
        Resolution to use instead of the file's. [px/inch]

    Returns
    -------
    ScanFile
        Upright size, bits, resolution, profile and hash; no pixels.

    Raises
    ------
    ScanError
        One line: what is wrong, what is allowed, what to do.
    """
    try:
        return _open(path, ppi)
    except FileNotFoundError as error:
        raise fault(
            path, "is not there", "Look for it in the folder scans, or mend its name in pulls.csv."
        ) from error
    except PermissionError as error:
        raise fault(path, "may not be read", "Give yourself the right to read the file.") from error
    except OSError as error:
        why = error.strerror or str(error)
        raise fault(path, f"cannot be read ({why})", "Check the disk, or copy the file anew.") from error


def _open(path: Path, ppi: float | None) -> ScanFile:
    """Do the work of `open_scan`; faults of the file system rise as they are."""
    stamp = file_stamp(path)
    header = read_header(path)
    if header.width * header.height > PIXELS_MAX:
        raise fault(
            path,
            f"is {header.width} x {header.height} px; up to {PIXELS_MAX // 1_000_000} megapixels are read",
            "Scan the sheet at a lower resolution.",
        )
    ppi_x, ppi_y = _resolution(path, header, ppi)
    if header.orientation in TURNED:
        ppi_x, ppi_y = ppi_y, ppi_x
    quality = Quality.NONE
    if header.ppi is None:
        quality |= Quality.PPI_ASSUMED
    if min(ppi_x, ppi_y) < PPI_LOW:
        quality |= Quality.LOW_RESOLUTION
    if header.lossy:
        quality |= Quality.LOSSY
    turned = header.orientation in TURNED
    return ScanFile(
        path=path,
        width=header.height if turned else header.width,
        height=header.width if turned else header.height,
        bits=header.bits,
        channels=header.channels,
        ppi_x=ppi_x,
        ppi_y=ppi_y,
        orientation=header.orientation,
        icc_profile=header.icc_profile,
        sha256=file_hash(path),
        stamp=stamp,
        compression=header.compression,
        quality=quality,
        declared_curve=header.declared_curve,
        remarks=_remarks(path, header),
    )


def read_header(path: Path) -> Header:
    """Return the head of a scan file of any kind; see `open_scan` for the errors."""
    if path.is_dir():
        raise fault(path, "is a folder; one image file is needed", "Name the image file itself.")
    with path.open("rb") as file:
        start = file.read(16)
    if not start:
        raise fault(
            path, "is empty (0 bytes); an image file is needed", "Copy it anew or scan the sheet again."
        )
    for mark, read in _MARKS:
        if start.startswith(mark):
            return read(path)
    what = next(
        (name for mark, name in _OTHERS if start.startswith(mark)), "not an image file that is known here"
    )
    raise fault(path, f"is {what}; TIFF, PNG and JPEG are read", "Save the scan as 16-bit TIFF.")


def check_ppi(ppi: float) -> str:
    """Return what is wrong with a resolution, or nothing.

    >>> check_ppi(600.0), check_ppi(5.0)
    ('', '5 ppi; 50 to 20000 ppi is allowed')
    """
    if math.isfinite(ppi) and PPI_MIN <= ppi <= PPI_MAX:
        return ""
    return f"{ppi:.6g} ppi; {PPI_MIN:.0f} to {PPI_MAX:.0f} ppi is allowed"


def _resolution(path: Path, header: Header, ppi: float | None) -> tuple[float, float]:
    """Return the resolution along stored columns and rows: the one given, else the file's."""
    if ppi is not None:
        wrong = check_ppi(ppi)
        if wrong:
            raise ScanError(f"Scan '{path.name}': edition.toml gives {wrong}. Mend ppi under [capture].")
        return ppi, ppi
    advice = "Write the scanner's setting under [capture] in edition.toml, for example ppi = 600."
    if header.ppi is None:
        raise fault(path, f"names no resolution; {PPI_MIN:.0f} to {PPI_MAX:.0f} ppi is allowed", advice)
    for value in header.ppi:
        wrong = check_ppi(value)
        if wrong:
            raise fault(path, f"says {wrong}", advice)
    return header.ppi


def _remarks(path: Path, header: Header) -> tuple[str, ...]:
    if path.suffix.lower() in _ENDINGS[header.kind]:
        return ()
    return (f"'{path.name}' holds a {header.kind} picture in spite of its ending",)
