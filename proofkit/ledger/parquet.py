"""Measurements of many editions as one Parquet data set, a folder for each edition."""

import io
from collections.abc import Iterable
from pathlib import Path
from urllib.parse import quote

from proofkit.errors import FolderError
from proofkit.folder.writing import write_bytes
from proofkit.ledger.connection import Ledger
from proofkit.ledger.pulls import kept_editions, kept_measurements


def write_dataset(
    ledger: Ledger, folder: Path, editions: Iterable[str] | None = None, *, unnamed: str = "unnamed"
) -> list[Path]:
    """Write the table `measurements` of editions in a ledger as Parquet, partitioned by edition.

    Parameters
    ----------
    ledger : Ledger
    folder : Path
        Of the data set; made when it is not there. Editions that are not written now stay as they are.
    editions : iterable of str, optional
        All that were checked with this ledger when left out.
    unnamed : str
        What to call the edition of a ledger that holds one only, and so has no names.

    Returns
    -------
    list of Path
        ``folder/edition=NAME/measurements.parquet``, one an edition, each replaced in one step; signs that file
        systems dislike are written as ``%XX``, as readers of such data sets (pyarrow, pandas, dask, DuckDB) expect.

    Raises
    ------
    FolderError
        If a file cannot be written.
    LedgerError
        If the ledger cannot be read.

    Notes
    -----
    One edition is held in memory at a time.
    """
    written = []
    for edition in kept_editions(ledger) if editions is None else editions:
        table = kept_measurements(ledger, edition)
        content = io.BytesIO()
        table.to_parquet(content, index=False)
        home = Path(folder) / f"edition={quote(edition or unnamed, safe='')}"
        try:
            home.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise FolderError(
                f"{home} cannot be made ({error.strerror}). Make the folder writable or choose another one."
            ) from error
        written.append(write_bytes(home / "measurements.parquet", content.getvalue()))
    return written
