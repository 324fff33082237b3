"""Pyramids of an edition's scans, kept beside its ledger and made anew only when a scan has changed."""

import hashlib
from functools import cache
from pathlib import Path

import proofkit
from proofkit.errors import ScanError
from proofkit.folder.edition import Capture, Edition, Pull
from proofkit.folder.writing import remove_abandoned
from proofkit.pyramid.file import make_pyramid, read_pyramid, restamped
from proofkit.pyramid.types import Pyramid
from proofkit.reflectance import tone_curve
from proofkit.scan import open_scan
from proofkit.scan.fetching import fetched, place_stamp, scan_place

PYRAMIDS = "pyramids"
"""Folder of pyramid files, beside the ledger; all of it may be thrown away at any time."""

MOST_BYTES = 16_000_000_000
"""Pyramids kept at most: those of some twenty A3 sheets at 1200 ppi; the ones longest unused go first. [byte]"""

READING = ("scan", "reflectance", "pyramid")
"""Packages that the numbers of a pyramid come from."""


def ready_pyramid(edition: Edition, pull: Pull, beside: Path) -> Pyramid | None:
    """Return the pyramid of a pull's scan if it is there and the scan has not been touched since.

    Parameters
    ----------
    edition : Edition
    pull : Pull
    beside : Path
        Folder of the ledger.
    """
    path = _path(edition, pull, beside)
    pyramid = read_pyramid(path)
    if pyramid is None or pyramid.setup != _setup(edition.capture):
        return None
    return pyramid if pyramid.stamp and pyramid.stamp == place_stamp(scan_place(edition, pull)) else None


def open_pyramid(edition: Edition, pull: Pull, beside: Path) -> Pyramid:
    """Return the pyramid of a pull's scan, making it when there is none that holds.

    A scan that was only touched (the same bytes, by SHA-256) keeps its levels.

    Raises
    ------
    ScanError, CalibrationError
        If the scan cannot be read, or the pyramid not be written: one line.
    """
    ready = ready_pyramid(edition, pull, beside)
    if ready is not None:
        ready.path.touch()  # the ones used last are kept longest
        return ready
    path = _path(edition, pull, beside)
    place = scan_place(edition, pull)
    before = place_stamp(place)
    setup = _setup(edition.capture)
    with fetched(edition, pull) as scan:
        file = open_scan(scan, ppi=edition.capture.ppi)
        curve = tone_curve(file, edition.capture)
        kept = read_pyramid(path)
        if kept is not None and (kept.sha256, kept.setup) == (file.sha256, setup):
            pyramid = restamped(kept, before)
        else:
            pyramid = make_pyramid(file, curve, path, stamp=before, setup=setup)
    if place_stamp(place) != before:
        path.unlink(missing_ok=True)
        raise ScanError(
            f"Scan '{pull.scan}' is being written just now. Open the sheet again when that has ended."
        )
    forget_oldest(path.parent, MOST_BYTES, keep=path)
    return pyramid


def forget_oldest(folder: Path, most_bytes: int, *, keep: Path) -> None:
    """Remove the pyramids that were not used for longest until no more than `most_bytes` are left."""
    remove_abandoned(folder, ".*.pyramid.*.part")
    files = sorted(folder.glob("*.pyramid"), key=lambda path: path.stat().st_mtime_ns)
    total = sum(path.stat().st_size for path in files)
    for path in files:
        if total <= most_bytes:
            return
        if path != keep:
            total -= path.stat().st_size
            path.unlink(missing_ok=True)


def _path(edition: Edition, pull: Pull, beside: Path) -> Path:
    place = scan_place(edition, pull)
    where = place if isinstance(place, str) else str(place.absolute())
    return beside / PYRAMIDS / f"{hashlib.sha256(where.encode()).hexdigest()[:24]}.pyramid"


def _setup(capture: Capture) -> str:
    """Return what changes how a scan is read: some of the settings, and the program that read it."""
    return repr((capture.ppi, capture.tone_curve, capture.wedge, _program()))


@cache
def _program() -> str:
    """Return a digest of the code that turns codes into light and halves it.

    Densities under the pointer are told from a pyramid against paper that today's program measured.
    """
    root = Path(proofkit.__file__).parent
    files = sorted(path for name in READING for path in (root / name).glob("*.py"))
    digest = hashlib.sha256()
    for path in files:
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]
