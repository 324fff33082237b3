"""Write a file of the edition only as long as nobody else has changed it since it was read."""

import hashlib
from pathlib import Path

from proofkit.errors import FolderError


class ChangedElsewhereError(FolderError):
    """A file was changed by hand or by another program; nothing was written."""


def file_mark(path: Path) -> str:
    """Return what tells one content of a file from another; empty when there is no file.

    Raises
    ------
    FolderError
        If the file is there and cannot be read.
    """
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        return ""
    except OSError as error:
        raise FolderError(f"{path} cannot be read ({error.strerror}). Make it readable.") from error


def check_unchanged(path: Path, mark: str) -> None:
    """Raise when a file is no longer what it was when `mark` was taken.

    Raises
    ------
    ChangedElsewhereError
        One line that asks what to do.
    """
    if file_mark(path) != mark:
        raise ChangedElsewhereError(
            f"{path.name} was changed outside the bench since it was read. Nothing was written: "
            "take what the file says now, or write yours over it."
        )
