"""Tell scans of the same sheet from scans of sheets that only look alike.

Ink takes on every sheet in its own way: at half a millimetre, two pulls of one plate differ by grain and small patches,
two scans of one sheet by the scanner's noise alone. What one scan differs from another is therefore compared with what
it differs from sheets that are known to be others.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from scipy import ndimage

from proofkit.arrays import Floats, Picture
from proofkit.scatter import robust_sd

SMOOTH_CELLS = 9
"""Side of the square whose median is taken out: lamp, paper and wiping are smooth beyond it. [cells of 0.5 mm]"""

SAME_FRACTION = 0.8
"""Two scans that differ by less than this share of what other sheets differ by are of one sheet. [-] On simulated
sheets of 600 px/inch the share was 0.25 to 0.6 between scans of one sheet and 1.0 to 1.1 between sheets."""

_WHITEST = 0.02
"""Reflectances below this count as this, so that a logarithm exists. [-]"""


def detail(picture: Picture) -> Floats:
    """Return what a coarse tone picture shows at the scale of grain, (h, w) in density; NaN outside the scan."""
    density = -np.log10(np.maximum(picture.astype(np.float64), _WHITEST))
    known = np.isfinite(density)
    filled = np.where(known, density, np.median(density[known]) if known.any() else 0.0)
    smooth = ndimage.median_filter(filled, size=SMOOTH_CELLS, mode="nearest")
    return np.where(known, filled - smooth, np.nan)


def difference(first: Floats, second: Floats) -> float:
    """Return the robust spread of the difference of two details. [D]"""
    if first.shape != second.shape:
        return float("nan")
    apart = (first - second)[np.isfinite(first) & np.isfinite(second)]
    return robust_sd(apart) if apart.size else float("nan")


def strangers(
    scans: Mapping[str, Sequence[str]], pictures: Mapping[str, Picture], others: Sequence[str]
) -> dict[str, str]:
    """Return the scans that do not show the sheet they are said to show.

    Parameters
    ----------
    scans : mapping of str to sequence of str
        Sheet -> names of its scans.
    pictures : mapping of str to Picture
        Name of a scan -> coarse tone picture in the plate frame.
    others : sequence of str
        Names of scans of further sheets, each of a sheet of its own.

    Returns
    -------
    dict of str to str
        Name of a scan -> why it is taken for another sheet. Empty where there is no other sheet to compare with.
    """
    details = {name: detail(picture) for name, picture in pictures.items()}
    found: dict[str, str] = {}
    for sheet, names in scans.items():
        known = [name for name in names if name in details]
        foreign = [
            name for other, them in scans.items() if other != sheet for name in them[:1] if name in details
        ]
        foreign += [name for name in others if name in details and name not in names]
        if len(known) < 2 or not foreign:
            continue
        for name in known:
            near = np.nanmedian([difference(details[name], details[one]) for one in known if one != name])
            far = np.nanmedian([difference(details[name], details[one]) for one in foreign])
            if near > SAME_FRACTION * far:
                found[name] = (
                    f"does not show the same sheet as the other scans of pull '{sheet}': its grain of ink differs from "
                    f"theirs by {near:.4f} D, as other sheets do ({far:.4f} D). Check which sheet was laid down"
                )
    return found
