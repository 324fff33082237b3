"""Read a whole edition folder and report everything that is wrong with it at once."""

from pathlib import Path

from proofkit.errors import FolderError
from proofkit.folder.edition import Edition, Pull, Region
from proofkit.folder.naming import natural_key
from proofkit.folder.problems import place, quoted
from proofkit.folder.pulls import PULLS_FILE, read_pulls
from proofkit.folder.regions import REGIONS_FILE, read_regions
from proofkit.folder.settings import SETTINGS_FILE, Settings, read_settings
from proofkit.folder.toml_table import line_of
from proofkit.wording import first_of


def check_folder(folder: Path) -> None:
    """Raise if `folder` is no folder that can be listed.

    Raises
    ------
    FolderError
        One line.
    """
    if not folder.exists():
        raise FolderError(f"{quoted(folder)} does not exist. Give the folder of an edition.")
    if not folder.is_dir():
        raise FolderError(f"{quoted(folder)} is a file, allowed is a folder. Give the folder that holds it.")
    try:
        next(folder.iterdir(), None)
    except OSError as error:
        raise FolderError(
            f"{quoted(folder)} cannot be opened ({error.strerror}). Make it readable."
        ) from error


def read_edition(folder: Path) -> Edition:
    """Return what the folder of an edition says.

    Parameters
    ----------
    folder : Path
        Holds edition.toml, pulls.csv, regions.csv (all optional) and scans/.

    Raises
    ------
    FolderError
        If anything is not as it should be: one line for each problem.
    """
    check_folder(folder)
    problems: list[str] = []
    remarks: list[str] = []
    settings = read_settings(folder, problems, remarks)
    pulls = read_pulls(folder, problems, remarks)
    regions = read_regions(folder, problems, remarks)
    if not problems:
        # Names can only be compared once all files are read as they are meant.
        problems.extend(_unknown_pulls(folder, settings, pulls))
        problems.extend(_unknown_regions(settings, regions))
    if problems:
        raise FolderError("\n".join(problems))
    return Edition(
        folder=folder,
        title=settings.title or folder.absolute().name,
        pulls=pulls,
        regions=regions,
        standard=settings.standard,
        confirming=settings.confirming,
        declared=settings.declared,
        plate_width_mm=settings.plate_width_mm,
        plate_height_mm=settings.plate_height_mm,
        capture=settings.capture,
        tolerances=settings.tolerances,
        watched=settings.watched,
        candidates=settings.candidates,
        wishes=settings.wishes,
        signed=settings.signed,
        remarks=tuple(remarks),
    )


def _unknown_pulls(folder: Path, settings: Settings, pulls: tuple[Pull, ...]) -> list[str]:
    told = PULLS_FILE if (folder / PULLS_FILE).exists() else f"scans/, and no {PULLS_FILE} names pulls"
    known = {pull.pull for pull in pulls}
    asked = [("confirming", name) for name in settings.confirming]
    asked += [("candidates", name) for name in settings.candidates]
    if settings.standard is not None:
        asked.insert(0, ("standard", settings.standard))
    return [
        f"{place(SETTINGS_FILE, line_of(settings.text, '', key))}: {key} names pull {quoted(name)}, but there is "
        f"none of that name in {told}. {_near(name, sorted(known, key=natural_key))}"
        for key, name in asked
        if name not in known
    ]


def _unknown_regions(settings: Settings, regions: tuple[Region, ...]) -> list[str]:
    if not regions:
        return []
    known = {region.name for region in regions}
    asked = [("", "watched", name) for name in settings.watched]
    asked += [("wishes", wish.region, wish.region) for wish in settings.wishes]
    asked += [
        (f"tolerances.{tolerance.region}", tolerance.measure, tolerance.region)
        for tolerance in settings.tolerances
        if tolerance.region != "*"
    ]
    return [
        f"{place(SETTINGS_FILE, line_of(settings.text, table, key))}: {key} is meant for region {quoted(name)}, but "
        f"there is none of that name in {REGIONS_FILE}. {_near(name, sorted(known, key=natural_key))}"
        for table, key, name in asked
        if name not in known
    ]


def _near(name: str, known: list[str]) -> str:
    """Say which names there are, those that differ least from `name` first."""
    alike = [other for other in known if other.casefold().lstrip("0") == name.casefold().lstrip("0")]
    shown = [quoted(other) for other in alike or known]
    return f"There {'is' if len(shown) == 1 else 'are'} {first_of(shown, len(alike) or 8)}."
