"""Keep a standard that is ready in a file, so that later sheets of its edition need not wait for it again.

The file is a zip archive: `standard.json` says how the standard is built up, every array lies beside it as an .npy
file. Nothing in it is ever run, and what does not read back whole counts as not there.
"""

import json
import os
import tempfile
import tokenize
import zipfile
import zlib
from collections.abc import Callable
from contextlib import suppress
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any, cast

import numpy as np
import shapely
from shapely.geometry import Polygon

from proofkit.folder.edition import Region
from proofkit.folder.writing import remove_abandoned
from proofkit.laying.edges import EdgeCourse
from proofkit.laying.rectify import Box
from proofkit.laying.reference import MatchPictures
from proofkit.laying.standard_lines import StandardLines
from proofkit.lines.crossings import Spans
from proofkit.lines.types import LineMap
from proofkit.measures.colour import SheetColour
from proofkit.measures.ghost import Patch
from proofkit.measures.types import RegionRecord
from proofkit.quality import Quality
from proofkit.reflectance.paper_clouds import Clouds
from proofkit.reflectance.surface import Surface
from proofkit.sheet.types import Standard

PREPARED = "prepared"
"""Folder of the files, beside the ledger; all of it may be thrown away at any time."""

MOST_FILES = 4
"""Standards kept: of today's regions and settings and of those before, and of editions that share a ledger file; the
ones longest unused go first."""

FORMAT = 1

FASTEST = 1
"""Level of compression: most of a standard is masks and white paper, which shrink at any level."""

KINDS: dict[str, Callable[..., object]] = {
    kind.__name__: kind
    for kind in (
        Standard, MatchPictures, StandardLines, LineMap, Spans, Region, RegionRecord, Box, Patch, SheetColour,
        EdgeCourse, Surface, Clouds,
    )
}  # fmt: skip
"""All that a standard is built of."""


def keep_standard(folder: Path, key: str, standard: Standard) -> None:
    """Keep a standard, without its scan, in `folder`; where that cannot be written it is not kept.

    Parameters
    ----------
    folder : Path
        Made if it is not there. Older files in it go when there are more than `MOST_FILES`.
    key : str
        Digest of everything that the standard depends on, hexadecimal.
    standard : Standard
    """
    path = _path(folder, key)
    draft: str | None = None
    with suppress(OSError):
        try:
            folder.mkdir(parents=True, exist_ok=True)
            descriptor, draft = tempfile.mkstemp(dir=folder, prefix=f".{path.name}.", suffix=".part")
            with os.fdopen(descriptor, "wb") as file, _archive(file) as archive:
                built = _taken_apart(replace(standard, laid=None), "standard", archive)
                head = {"format": FORMAT, "key": key, "standard": built}
                archive.writestr("standard.json", json.dumps(head), compress_type=zipfile.ZIP_DEFLATED)
            Path(draft).replace(path)
        finally:
            if draft is not None:
                Path(draft).unlink(missing_ok=True)
        _forget_oldest(folder, path)


def kept_standard(folder: Path, key: str) -> Standard | None:
    """Return the standard kept under a key, without its scan; None when it is not there, or not whole."""
    path = _path(folder, key)
    try:
        with zipfile.ZipFile(path) as archive:
            head = json.loads(archive.read("standard.json"))
            if (head["format"], head["key"]) != (FORMAT, key):
                return None
            standard = _put_together(head["standard"], archive)
        path.touch()  # the ones used last are kept longest
    except (
        OSError, EOFError, ValueError, KeyError, TypeError, AttributeError, RuntimeError, NotImplementedError,
        zipfile.BadZipFile, zlib.error, shapely.errors.ShapelyError, SyntaxError, tokenize.TokenError,
    ):  # fmt: skip  # the last two: the head of an array is read before its check sum
        return None
    return standard if isinstance(standard, Standard) else None


def _path(folder: Path, key: str) -> Path:
    return folder / f"{key[:24]}.standard"


def _archive(file: Any) -> zipfile.ZipFile:  # noqa: ANN401  a file opened to write bytes
    return zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=FASTEST)


def _taken_apart(value: object, name: str, archive: zipfile.ZipFile) -> object:
    """Return what JSON can hold of a value; arrays go into the archive under their own name."""
    if isinstance(value, np.ndarray):
        with archive.open(f"{name}.npy", "w", force_zip64=True) as out:
            np.lib.format.write_array(out, np.ascontiguousarray(value), allow_pickle=False)
        return {"array": f"{name}.npy"}
    if isinstance(value, Polygon):
        return {"polygon": shapely.to_wkb(value, hex=True)}
    if isinstance(value, Quality):
        return {"quality": int(value)}
    if is_dataclass(value) or hasattr(value, "_fields"):
        names = value._fields if hasattr(value, "_fields") else [f.name for f in fields(cast("Any", value))]
        parts = {part: _taken_apart(getattr(value, part), f"{name}.{part}", archive) for part in names}
        return {"kind": type(value).__name__, "parts": parts}
    if isinstance(value, tuple):
        return {"tuple": [_taken_apart(part, f"{name}.{k}", archive) for k, part in enumerate(value)]}
    return value.item() if isinstance(value, np.generic) else value


def _put_together(built: object, archive: zipfile.ZipFile) -> object:
    """Return the value that `_taken_apart` took apart."""
    if not isinstance(built, dict):
        return built
    if "array" in built:
        with archive.open(built["array"]) as source:
            return np.lib.format.read_array(source, allow_pickle=False)
    if "polygon" in built:
        return shapely.from_wkb(built["polygon"])
    if "quality" in built:
        return Quality(built["quality"])
    if "tuple" in built:
        return tuple(_put_together(part, archive) for part in built["tuple"])
    return KINDS[built["kind"]](
        **{part: _put_together(value, archive) for part, value in built["parts"].items()}
    )


def _forget_oldest(folder: Path, keep: Path) -> None:
    remove_abandoned(folder, ".*.standard.*.part")
    files = sorted(folder.glob("*.standard"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    for path in [path for path in files if path != keep][MOST_FILES - 1 :]:
        path.unlink(missing_ok=True)
