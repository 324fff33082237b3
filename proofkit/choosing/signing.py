"""Record in edition.toml that the artist signed a pull as the standard, with what it stands for."""

import hashlib
import tomllib
from datetime import UTC, date, datetime
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, Table

from proofkit.choice.recipes import recipe_of, same_recipe
from proofkit.errors import FolderError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.folder.settings import SETTINGS_FILE
from proofkit.folder.writing import write_text
from proofkit.ledger.decisions import LONGEST_INITIALS
from proofkit.ledger.keys import regions_digest

MINE = ("standard", "confirming", "signed")
"""Keys of edition.toml that a signature writes."""


def sign_standard(
    folder: Path | str, pull: str, *, by: str, on: date | None = None, again: bool = False
) -> Path:
    """Record the artist's signature: standard, confirming pulls, recipe, regions and tolerances are frozen.

    Comments and everything else in edition.toml stay as they are; older signatures are kept above the new one.

    Parameters
    ----------
    folder : Path or str
        The edition.
    pull : str
        The pull that was signed.
    by : str
        Initials of the artist.
    on : date, optional
        Today when left out.
    again : bool, default False
        Sign another pull, or the same anew, though one was signed before.

    Returns
    -------
    Path
        edition.toml.

    Raises
    ------
    FolderError
        If there is no such pull or scan, no regions, or a signature already: one line for each.
    """
    folder = Path(folder)
    edition = read_edition(folder)
    chosen = next((row for row in edition.pulls if row.pull == pull.strip()), None)
    problems = _problems(edition, chosen, pull, by)
    if edition.signed and not again:
        last = edition.signed[-1]
        problems.append(
            f"Pull {quoted(last.pull)} was signed by {last.by} on {last.on}. Sign again (--again) if the artist did."
        )
    if problems or chosen is None:
        raise FolderError("\n".join(problems))
    path = folder / SETTINGS_FILE
    before = path.read_text(encoding="utf-8-sig") if path.exists() else ""
    signature = _signature(edition, chosen, by.strip(), on or datetime.now(UTC).date())
    return write_text(path, _with_signature(before, edition, chosen, signature))


def _problems(edition: Edition, chosen: Pull | None, pull: str, by: str) -> list[str]:
    problems = []
    if chosen is None:
        problems.append(
            f"Pull {quoted(pull)} is not in the edition, so that it cannot be signed. Give a pull of pulls.csv."
        )
    elif not edition.scan_path(chosen).is_file():
        problems.append(
            f"The scan of pull {quoted(pull)} is not there. A signature needs what was looked at."
        )
    if not by.strip() or len(by.strip()) > LONGEST_INITIALS or not by.isprintable():
        problems.append(f"The initials are {quoted(by)}, allowed are 1 to {LONGEST_INITIALS} characters.")
    if not edition.regions:
        problems.append(
            "There is no regions.csv to freeze. Run check or choose first, then look over its regions."
        )
    return problems


def _with_signature(text: str, edition: Edition, pull: Pull, signature: Table) -> str:
    """Return edition.toml with one more signature.

    Raises
    ------
    FolderError
        If the file cannot be added to without loss.
    """
    by_hand = f"Write standard = {quoted(pull.pull)} into it by hand."
    try:
        document = tomlkit.parse(text)
        document["standard"] = pull.pull
        confirming = same_recipe(pull, edition.pulls) or edition.confirming
        document["confirming"] = [name for name in confirming if name != pull.pull]
        signatures = document.get("signed")
        if isinstance(signatures, AoT):
            signatures.append(signature)
        else:
            fresh = tomlkit.aot()
            fresh.append(signature)
            document.append("signed", fresh)
        result = tomlkit.dumps(document)
    except TOMLKitError as error:
        raise FolderError(f"edition.toml cannot be added to ({error}). {by_hand}") from error
    kept, changed = (
        {key: value for key, value in tomllib.loads(part).items() if key not in MINE}
        for part in (text, result)
    )
    if kept != changed:
        raise FolderError(
            f"edition.toml cannot be added to without a change of its other settings. {by_hand}"
        )
    return result


def _signature(edition: Edition, pull: Pull, by: str, on: date) -> Table:
    table = tomlkit.table()
    table["pull"] = pull.pull
    table["by"] = by
    table["on"] = on
    if state := pull.notes.get("state"):
        table["state"] = state
    with edition.scan_path(pull).open("rb") as file:
        table["scan_sha256"] = hashlib.file_digest(file, "sha256").hexdigest()
    table["regions"] = [region.name for region in edition.regions]
    table["regions_sha256"] = regions_digest(edition.regions)
    if edition.wishes:
        table["wishes"] = [f"{wish.region}: {wish.want or wish.measure}" for wish in edition.wishes]
    if edition.tolerances:
        table["tolerances"] = [
            f"{one.region}: {one.measure} within {one.allowed:g}" for one in edition.tolerances
        ]
    table["recipe"] = dict(recipe_of(pull))
    return table
