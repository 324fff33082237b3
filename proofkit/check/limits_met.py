"""Remarks on what was asked for and could not be had: a wedge, a flat field, an edge, lines in a region."""

import pandas as pd

from proofkit.folder.problems import quoted
from proofkit.quality import Quality, from_words
from proofkit.wording import pulls_listed

_SAID = {
    Quality.NO_WEDGE: "The step wedge cannot be used on {pulls}; densities there hang on the curve that stands in.",
    Quality.NO_FLAT_FIELD: "The flat field is not used on {pulls}; what is uneven in the scanner's light stays in.",
    Quality.NO_EDGE: (
        "The box of the slanted edge holds none on {pulls}; their blur is told from the lines. Mend edge under "
        "[capture] in edition.toml."
    ),
}


def on_calibration(sheets: pd.DataFrame) -> list[str]:
    """Return a remark for each aid of calibration that some scans lack, with what the first of them says.

    Parameters
    ----------
    sheets : DataFrame
        Table `sheets`.
    """
    flags = [from_words(str(words)) for words in sheets["quality"]]
    remarks = []
    for flag, text in _SAID.items():
        lacking = sheets[[bool(flag & one) for one in flags]]
        if not len(lacking):
            continue
        pulls = [str(pull) for pull in lacking["pull"]]
        said = text.format(pulls=pulls_listed(pulls))
        # The name of the curve says why for wedge and flat field.
        remarks.append(
            said if flag is Quality.NO_EDGE else f"{said} Pull {pulls[0]}: {lacking['curve'].iloc[0]}"
        )
    return remarks


def on_regions(measurements: pd.DataFrame, standard: str) -> list[str]:
    """Return a remark for each region of line work that has no lines on the standard.

    Parameters
    ----------
    measurements : DataFrame
        Table `measurements`.
    standard : str
        Its pull.
    """
    rows = measurements[measurements["pull"] == standard]
    return [
        f"Region {quoted(str(region))} is said to hold lines, but the standard shows none there: its tone and film "
        "alone are measured. Redraw it, or let its work be open or tone in regions.csv."
        for region, words in zip(rows["region"], rows["quality"], strict=True)
        if Quality.NO_LINES & from_words(str(words))
    ]
