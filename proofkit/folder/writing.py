"""Write a text file of an edition in one step, so that a stop at any moment leaves the old or the new one."""

import errno
import glob
import os
import tempfile
import time
from contextlib import suppress
from pathlib import Path

from proofkit.errors import FolderError

ABANDONED_S = 86_400.0
"""A draft that nobody has written to for a day belongs to a program that was killed. [s]"""


def write_text(path: Path, text: str) -> Path:
    """Write UTF-8 text with unchanged line ends, replacing `path` at once.

    Raises
    ------
    FolderError
        If the file cannot be written.
    """
    return write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> Path:
    """Write `content` to `path` at once; see `write_text`."""
    temporary: str | None = None
    remove_abandoned(path.parent, f".{glob.escape(path.name)}.*.part")
    try:
        descriptor, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
        with os.fdopen(descriptor, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        raise FolderError(f"{path} cannot be written ({error.strerror}). {_advice(error)}") from error
    return path


def _advice(error: OSError) -> str:
    if error.errno in {errno.ENOSPC, errno.EDQUOT}:
        return "Make room on its disk, or choose another folder."
    return "Make its folder writable or choose another one."


def remove_abandoned(folder: Path, pattern: str) -> None:
    """Remove drafts that a killed program has left in a folder, as far as they can be removed.

    Parameters
    ----------
    folder : Path
    pattern : str
        Of the names of drafts, as `Path.glob` takes it. Those written to in the last `ABANDONED_S` stay.
    """
    for draft in folder.glob(pattern):
        with suppress(OSError):
            if time.time() - draft.stat().st_mtime > ABANDONED_S:
                draft.unlink()
