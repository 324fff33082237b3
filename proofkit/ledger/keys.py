"""Keys of the ledger: what has to be the same for a measurement to be the same."""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from functools import cache
from importlib.metadata import version
from pathlib import Path

import cv2
import shapely

import proofkit
from proofkit.arrays import Points
from proofkit.folder.edition import Edition, Region
from proofkit.scan.hashing import file_hash

MEASURING = (
    "arrays.py", "edition.py", "peaks.py", "quality.py", "units.py", "columns", "frame", "laying", "lines", "measures",
    "reflectance", "scan", "scatter.py", "sheet", "threads.py",
)  # fmt: skip
"""Modules and packages that a sheet's numbers come from."""

LIBRARIES = ("cv2", "imagecodecs", "numba", "numpy", "scipy", "shapely", "tifffile")
"""Modules of others that a sheet's numbers come from: another version may decode, smooth or solve differently."""


@dataclass(frozen=True, slots=True)
class SheetKey:
    """What a measured sheet depends on."""

    scan_sha256: str
    setup_sha256: str
    """Regions, capture settings, size of the copper, corners given by hand: see `setup_digest`."""
    standard_sha256: str
    """Of the standard that the sheet was laid on."""
    version: str
    """Of the measuring program: see `measure_version`."""

    @property
    def digest(self) -> str:
        """All of it in 64 hexadecimal digits."""
        return digest_of(asdict(self))


def digest_of(value: object) -> str:
    """Return the SHA-256 of plain values (texts, numbers, lists, dicts), the same on every machine.

    >>> digest_of({"a": 1.0, "b": None}) == digest_of({"b": None, "a": 1.0})
    True
    """
    text = json.dumps(value, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("ascii")).hexdigest()


@cache
def measure_version() -> str:
    """Return the version of proofkit with a digest of the code that measures and of the versions of its libraries.

    Any change of that code, of a library, or of what a stored sheet consists of, makes old sheets be measured again,
    without anybody having to remember to count a number up.
    """
    root = Path(proofkit.__file__).parent
    files = sorted(path for name in MEASURING for path in root.glob(f"{name}/**/*.py"))
    files += [root / name for name in MEASURING if name.endswith(".py")]
    text = digest_of(
        [
            [[path.relative_to(root).as_posix(), path.read_text(encoding="utf-8")] for path in files],
            [[name, _version_of(name)] for name in LIBRARIES],
        ]
    )
    return f"{proofkit.__version__}+{text[:12]}"


def _version_of(library: str) -> str:
    """Return the version of a library; OpenCV is packed under several names, so it is asked itself."""
    return cv2.__version__ if library == "cv2" else version(library)


def regions_digest(regions: Iterable[Region]) -> str:
    """Return a digest of names, work and outlines, in their order."""
    return digest_of(
        [[region.name, region.work, shapely.to_wkb(region.outline_mm, hex=True)] for region in regions]
    )


def setup_digest(edition: Edition, corners_px: Points | None) -> str:
    """Return a digest of everything in the folder that a sheet's measurement depends on, but the scan itself.

    Of the flat field that is its content: one of the same name may be put in its place, or be put there later.
    What lay behind the sheets is a note for people.
    """
    capture = {name: value for name, value in asdict(edition.capture).items() if name != "backing"}
    return digest_of(
        {
            "regions": regions_digest(edition.regions),
            "capture": capture,
            "flat_field_sha256": _flat_field_sha256(edition),
            "plate_mm": [edition.plate_width_mm, edition.plate_height_mm],
            "corners_px": None if corners_px is None else corners_px.tolist(),
        }
    )


def _flat_field_sha256(edition: Edition) -> str:
    """Return the hash of the scan of a blank sheet; nothing where there is none that can be read."""
    path = edition.flat_field_path
    if path is None:
        return ""
    try:
        return file_hash(path)
    except OSError:
        return ""
