"""What is said of each pull of a comparison, and what has to be borne in mind."""

from collections.abc import Sequence
from pathlib import PurePath

from proofkit.laying.standard_lines import StandardLines
from proofkit.laying.types import to_sheet_px
from proofkit.measures.types import LaidSheet
from proofkit.quality import Quality
from proofkit.states.types import Likeness, PullOfState, Side

NOT_THE_SAME = "not the same plate"


def whole(lines: StandardLines) -> Likeness:
    """Return that a sheet is wholly like itself."""
    return Likeness(1.0, 0, 0.0, same_plate=lines.lines.size > 0)


def seen_fraction(lines: StandardLines, sheet: LaidSheet) -> float:
    """Return the share of the base's line length that lies inside another scan."""
    px = to_sheet_px(sheet.laying, lines.lines.points_mm)
    h, w = sheet.scan.plane.shape
    inside = (px > 0).all(axis=1) & (px[:, 0] < w - 1) & (px[:, 1] < h - 1)
    return float(lines.lines.length_mm[inside].sum() / lines.lines.length_mm.sum())


def names_of(asked: PullOfState) -> dict[str, object]:
    """Return how the tables call a pull."""
    return {"state": asked.side, "pull": asked.name, "scan": scan_name(asked)}


def scan_name(asked: PullOfState) -> str:
    """Return the name of a pull's file, without its folder."""
    return PurePath(asked.pull.scan).name


def row_of(
    asked: PullOfState, sheet: LaidSheet, alike: Likeness, relation: str, *, by_lines: bool
) -> dict[str, object]:
    """Return the row of `compared` of a pull that was laid on the base."""
    laying, file = sheet.laying, sheet.scan.file
    reason = ""
    if relation == NOT_THE_SAME:
        reason = (
            f"{scan_name(asked)} shows a like picture, but its strokes lie elsewhere: "
            f"{100 * alike.agreeing_fraction:.0f} % of {alike.cells} passages agree, and lines "
            f"scatter by {alike.misfit_um:.0f} µm; a copy or another plate"
        )
    elif by_lines:
        reason = "laid by its line work alone"
    return {
        **names_of(asked),
        "relation": relation,
        "sha256": file.sha256,
        "curve": sheet.scan.curve,
        "ppi_x": file.ppi_x,
        "ppi_y": file.ppi_y,
        "stretch_x": laying.stretch_x,
        "stretch_y": laying.stretch_y,
        "rotation_deg": laying.rotation_deg,
        "mirrored": laying.mirrored,
        "misfit_um": laying.misfit_um,
        "agreeing_fraction": alike.agreeing_fraction,
        "reason": reason,
    }


def remarks_of(sides: Sequence[Side], seen: float, quality: Quality) -> tuple[str, ...]:
    """Return what has to be borne in mind, a sentence each."""
    said = []
    if min(sides.count("A"), sides.count("B")) < 2:
        said.append(
            "One pull of a state cannot tell a fault of printing from work on the plate: compare two or more of each "
            "where you can."
        )
    if seen < 0.98:
        said.append(
            f"Only {100 * seen:.0f} % of the line work of the first state lies inside the scan of the second."
        )
    if Quality.NO_PLATE_MARK in quality:
        said.append("No plate mark was found on the first scan: millimetres run from its top left corner.")
    return tuple(said)
