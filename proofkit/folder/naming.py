"""Natural order of names, the image files of an edition, and safe paths inside it."""

import hashlib
import os
import re
import tempfile
from pathlib import Path, PurePosixPath, PureWindowsPath

SCAN_ENDINGS = (".tif", ".tiff", ".png", ".jpg", ".jpeg")
"""Endings of files that are taken for scans, in any case."""


def natural_key(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return a sorting key that puts 2 before 10.

    >>> sorted(["pull 10", "pull 2", "Pull 1"], key=natural_key)
    ['Pull 1', 'pull 2', 'pull 10']
    """
    parts = re.split(r"([0-9]+)", name.casefold())
    return tuple((0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts if part)


def is_scan_name(name: str) -> bool:
    """Tell whether a file name is that of a scan; hidden files are none.

    >>> is_scan_name("pull 1.TIF"), is_scan_name("._pull 1.tif")
    (True, False)
    """
    return not name.startswith(".") and name.lower().endswith(SCAN_ENDINGS)


def list_scans(folder: Path) -> list[str]:
    """Return the scans in scans/, or if there are none those that lie in the folder itself, in natural order."""
    for where in (folder / "scans", folder):
        if where.is_dir():
            found = [path.name for path in where.iterdir() if is_scan_name(path.name) and path.is_file()]
            if found:
                return sorted(found, key=lambda name: (natural_key(name), name))
    return []


def pull_names(scans: list[str]) -> list[str]:
    """Return a pull for each scan: its name without the ending, or with it where that would stand twice.

    Names of files stay the same when a sheet is added later; running numbers would not.

    >>> pull_names(["1.tif", "2.tif", "2.png"])
    ['1', '2.tif', '2.png']
    """
    stems = [PurePosixPath(scan).stem for scan in scans]
    return [scan if stems.count(stem) > 1 else stem for scan, stem in zip(scans, stems, strict=True)]


def is_address(scan: str) -> bool:
    """Return whether a scan is named by the address of a file elsewhere.

    >>> is_address("s3://bucket/a.tif"), is_address("a.tif")
    (True, False)
    """
    return scan.find("://") > 0


def fetched_path(address: str) -> Path:
    """Return where this process keeps the copy of a file elsewhere while it is read."""
    digest = hashlib.sha256(address.encode()).hexdigest()[:16]
    name = PurePosixPath(address.split("::", 1)[0]).name or "scan"
    return Path(tempfile.gettempdir()) / f"proofkit-{os.getpid()}" / digest / name


def inside_path(text: str, folder: Path) -> str | None:
    """Return a path of pulls.csv relative to scans/ or to the edition; None when it leads out of the edition.

    >>> inside_path("./scans/pull 1.tif", Path("/editions/harbour"))
    'pull 1.tif'
    >>> inside_path("../elsewhere/pull 1.tif", Path("/editions/harbour")) is None
    True
    """
    if "\0" in text:
        return None
    if text.startswith("/"):
        try:
            path = PurePosixPath(Path(text).relative_to(folder.absolute()).as_posix())
        except ValueError:
            return None
    elif PureWindowsPath(text).drive:
        return None
    else:
        path = PurePosixPath(text.replace("\\", "/"))
    if ".." in path.parts or path.is_absolute() or not path.parts:
        return None
    parts = path.parts[1:] if path.parts[0] == "scans" and len(path.parts) > 1 else path.parts
    return str(PurePosixPath(*parts))
