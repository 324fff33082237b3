"""Make the benchmark's editions and files, once for each folder."""

import shutil
from dataclasses import replace
from pathlib import Path

import imagecodecs
import numpy as np
import tifffile

from tests.bench.drawing import SHEET_MM, draw_rows, field_boxes

BAND_ROWS = 256
PPI_OF_MEGAPIXELS = {1: 75.0, 4: 150.0, 17: 300.0, 70: 600.0, 280: 1200.0}
"""A3 at these resolutions. [Mpx -> px/inch]"""

KINDS = {
    "lzw 8": ("tif", np.uint8, "lzw"),
    "deflate 8": ("tif", np.uint8, "zlib"),
    "none 8": ("tif", np.uint8, None),
    "lzw 16": ("tif", np.uint16, "lzw"),
    "none 16": ("tif", np.uint16, None),
    "jpeg 8": ("jpg", np.uint8, "jpeg"),
    "png 8": ("png", np.uint8, "png"),
}
"""Kind of file -> ending, codes, compression."""

STANDARD_KIND = "lzw 8"
"""Kind of the standard's file."""


def picture(ppi, pull, dtype=np.uint8):
    """Return a whole sheet as codes; for making files only."""
    columns, rows = (round(side / 25.4 * ppi) for side in SHEET_MM)
    codes = np.empty((rows, columns, 3), dtype)
    for first in range(0, rows, BAND_ROWS):
        draw_rows(first, min(BAND_ROWS, rows - first), ppi, pull, codes[first : first + BAND_ROWS])
    return codes


def write(path, codes, compression, ppi):
    """Write codes as a file of a kind, as scanners do: strips of 64 rows, a predictor where there is a compression."""
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_name(f".{path.name}.part")
    if path.suffix == ".tif":
        predictor = compression is not None
        tifffile.imwrite(
            part, codes, photometric="rgb", rowsperstrip=64, compression=compression, predictor=predictor,
            resolution=(ppi, ppi), resolutionunit="INCH",
        )  # fmt: skip
    elif path.suffix == ".png":
        part.write_bytes(imagecodecs.png_encode(codes))
    else:
        part.write_bytes(imagecodecs.jpeg8_encode(codes, level=95))
    part.replace(path)
    return path


def scan(folder, megapixels, kind, pull=1):
    """Return a file of the benchmark, drawing it if it is not there yet."""
    ending, dtype, compression = KINDS[kind]
    path = Path(folder) / f"{megapixels}" / kind.replace(" ", "_") / f"pull_{pull}.{ending}"
    if not path.exists():
        ppi = PPI_OF_MEGAPIXELS[megapixels]
        write(path, picture(ppi, pull, dtype), compression, ppi)
    return path


def edition(folder, megapixels, kind, pulls):
    """Return an edition folder with a standard (pull 0) and so many other pulls, whose scans are links to files.

    The standard is the same for all kinds of files, so that it is made once for each size.
    """
    home = Path(folder) / "editions" / f"{megapixels}_{kind.replace(' ', '_')}_{pulls}"
    scans = home / "scans"
    scans.mkdir(parents=True, exist_ok=True)
    names = []
    for pull in range(pulls + 1):
        source = scan(folder, megapixels, kind if pull else STANDARD_KIND, pull)
        link = scans / source.name
        if not link.exists():
            link.hardlink_to(source)
        names.append(source.name)
    (home / "edition.toml").write_text(
        'title = "Twelve fields"\nstandard = "0"\nconfirming = []\n[capture]\ntone_curve = "sRGB"\n'
        f"ppi = {PPI_OF_MEGAPIXELS[megapixels]:.1f}\n"
    )
    rows = "".join(f"{pull},{name}\n" for pull, name in enumerate(names))
    (home / "pulls.csv").write_text(f"pull,scan\n{rows}")
    outlines = "".join(
        f'{name},lines,"POLYGON (({x0:g} {y0:g}, {x1:g} {y0:g}, {x1:g} {y1:g}, {x0:g} {y1:g}, {x0:g} {y0:g}))"\n'
        for name, (x0, y0, x1, y1) in field_boxes().items()
    )
    (home / "regions.csv").write_text(f"name,work,wkt\n{outlines}")
    return home


def small_edition(folder, pulls):
    """Return an edition of so many small sheets (56 x 72 mm of plate at 400 ppi), as the tests draw them."""
    from tests.check.conftest import HIGHEST_MM, KEPT_REGIONS
    from tests.simulate import EditionText, make_edition, make_plate, ordinary_pull

    home = Path(folder) / "editions" / f"small_{pulls}"
    if home.exists():
        return home
    whole = make_plate("trial")
    plate = replace(
        whole,
        strokes=tuple(stroke for stroke in whole.strokes if stroke.points_mm[:, 1].max() < HIGHEST_MM),
        regions=tuple(region for region in whole.regions if region.name in KEPT_REGIONS),
    )
    part = home.with_name(f".{home.name}")
    if part.exists():
        shutil.rmtree(part)
    drawn = [ordinary_pull(str(number), number) for number in range(1, pulls + 1)]
    confirming = tuple(str(number) for number in range(2, min(pulls, 5) + 1))
    make_edition(part, plate, drawn, 400, 7, EditionText("Small plate", "1", confirming))
    part.replace(home)
    return home
