"""Lay out an edition folder around scans that are there already."""

import csv
import io
from pathlib import Path

from proofkit.errors import FolderError
from proofkit.folder.naming import SCAN_ENDINGS, list_scans, pull_names
from proofkit.folder.problems import quoted
from proofkit.folder.pulls import PULLS_FILE
from proofkit.folder.read import check_folder
from proofkit.folder.settings import SETTINGS_FILE
from proofkit.folder.writing import write_text

PULL_COLUMNS = (
    "pull", "scan", "kind", "designation", "state", "pulled_on", "printer", "paper", "ink", "wiping", "pressure",
    "embossing", "note",
)  # fmt: skip

TEMPLATE = """\
# What proofkit has to know about this edition. Lines that begin with # say nothing yet: take the # away and fill in.
title = {title}

# The copper, measured with a rule: sheets are then compared with the plate, else with the standard.
# plate_width_mm = 148.0
# plate_height_mm = 105.0

# "uniform": every sheet should match the standard. "varied": sheets are meant to differ and none is flagged.
declared = "uniform"

# The pull signed as the standard, and pulls of the same recipe that show how far good ones differ.
# standard = "1"
# confirming = ["2", "3", "4"]

# Regions of regions.csv to look at first.
# watched = ["sky"]

[capture]
# Only if the files do not say it themselves.
# ppi = 600
# tone_curve = "sRGB"   # or "linear", "gamma 2.2", "icc", "wedge"
# backing = "black card"

# Your own limits, in the unit of the measure: for all regions here, for one in a table of its name.
[tolerances]
# line_load_um = 4.0
# [tolerances.sky]
# plate_tone_density = 0.02
"""


def start_folder(folder: Path) -> list[Path]:
    """Write edition.toml and pulls.csv for the scans in a folder; nothing is moved or replaced.

    Returns
    -------
    list of Path
        What was made, in order; empty when all was there.

    Raises
    ------
    FolderError
        If the folder holds no scans or cannot be written.
    """
    check_folder(folder)
    scans = list_scans(folder)
    pulls_path, settings_path = folder / PULLS_FILE, folder / SETTINGS_FILE
    if not scans and not pulls_path.exists():
        raise FolderError(
            f"{quoted(folder)} has no scans; allowed are files ending in {', '.join(SCAN_ENDINGS)} in it or in "
            "its folder scans. Put them there, then run again."
        )
    made = []
    if not settings_path.exists():
        made.append(write_text(settings_path, TEMPLATE.format(title=_toml_text(folder.absolute().name))))
    if not pulls_path.exists():
        made.append(write_text(pulls_path, _pulls_csv(scans)))
    return made


def _pulls_csv(scans: list[str]) -> str:
    text = io.StringIO(newline="")
    table = csv.writer(text, lineterminator="\n")
    table.writerow(PULL_COLUMNS)
    for pull, scan in zip(pull_names(scans), scans, strict=True):
        # A name that a spreadsheet would take for a formula is led in by ./, which means the same file.
        lead = "" if scan[0].isalnum() else "./"
        table.writerow(
            [pull if pull[0].isalnum() else f"pull {pull}", lead + scan, *[""] * (len(PULL_COLUMNS) - 2)]
        )
    return text.getvalue()


def _toml_text(text: str) -> str:
    r"""Return a TOML basic string.

    >>> _toml_text('The "Harbour"')
    '"The \\"Harbour\\""'
    """
    plain = "".join(c if c.isprintable() else "?" for c in text)
    return '"' + plain.replace("\\", "\\\\").replace('"', '\\"') + '"'
