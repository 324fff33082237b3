"""A ramp of line work over the plate, from the loads of the regions and where they lie.

Line load stands on the ground beside each line, so a film or filled gaps do not move it as they move the tone of a
picture. With too few regions of line work the ramp from the coarse tone pictures stays.
"""

from dataclasses import replace

import numpy as np

from proofkit.arrays import Floats
from proofkit.folder.edition import Region
from proofkit.judgement.scales import BY_NAME
from proofkit.judgement.spread import PRIOR_PULLS
from proofkit.judgement.values import SHEET, Column, Values

MIN_RAMP_REGIONS = 5
"""Fewest regions of line work for a plane: two more than it has coefficients. [-]"""

MIN_REACH = 0.4
"""Share of the plate's side that the regions must span for a ramp along it. [-]"""

REGION_SCATTER = 0.015
"""Usual scatter of one region's load about the rest of its sheet, relative: half of that between sheets. Common
practice. [-]"""


def _planes(change: Floats, places: Floats) -> tuple[Floats, Floats]:
    """Fit a plane to the change of load of each pull.

    Parameters
    ----------
    change : Floats
        (pulls, n) logarithm of load against the standard; NaN = not measured.
    places : Floats
        (n, 2) centres of the regions as shares of the plate's width and height.

    Returns
    -------
    tuple of Floats
        (pulls, 2) rise from edge to edge along x and y, and its standard uncertainty: from the residuals, drawn
        towards `REGION_SCATTER` as few regions know their scatter badly.
    """
    rise, doubt = np.full((len(change), 2), np.nan), np.zeros((len(change), 2))
    design = np.column_stack((np.ones(len(places)), places))
    for pull, row in enumerate(change):
        known = np.isfinite(row)
        if known.sum() < MIN_RAMP_REGIONS or (np.ptp(places[known], axis=0) < MIN_REACH).any():
            continue
        own = design[known]
        coefficients = np.linalg.lstsq(own, row[known], rcond=None)[0]
        squares = float(((row[known] - own @ coefficients) ** 2).sum())
        variance = (PRIOR_PULLS * REGION_SCATTER**2 + squares) / (PRIOR_PULLS + known.sum() - 3)
        rise[pull] = coefficients[1:]
        doubt[pull] = np.sqrt(variance * np.diag(np.linalg.inv(own.T @ own))[1:])
    return rise, doubt


def with_load_ramps(
    values: Values, standard: str, regions: tuple[Region, ...], width_mm: float, height_mm: float
) -> Values:
    """Return `values` with the ramps of line work taken from the regions, where there are enough of them.

    Parameters
    ----------
    values : Values
    standard : str
        One of the pulls.
    regions : tuple of Region
    width_mm, height_mm : float
        Of the plate.

    Returns
    -------
    Values
        `load_ramp_x_fraction` and `load_ramp_y_fraction` from edge to edge, the standard itself left out.
    """
    load = values.columns.get("line_load_um")
    if load is None or len(load.regions) < MIN_RAMP_REGIONS:
        return values
    centres = {region.name: region.outline_mm.centroid for region in regions}
    places = np.array([(centres[name].x / width_mm, centres[name].y / height_mm) for name in load.regions])
    at = values.pulls.index(standard)
    rise, doubt = _planes(load.scaled - load.scaled[at], places)
    rise[at] = np.nan
    if not np.isfinite(rise).any():
        return values
    none = np.zeros(len(values.pulls))
    ramps = {
        name: Column(BY_NAME[name], (SHEET,), rise[:, [axis]], doubt[:, [axis]], none, np.zeros(1))
        for axis, name in enumerate(("load_ramp_x_fraction", "load_ramp_y_fraction"))
    }
    return replace(values, columns=values.columns | ramps)
