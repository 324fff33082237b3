"""Contrasts: differences of two measures of one sheet, in which the common hand of ink and film drops out.

A sheet may carry 3 % more ink than the standard and be good; fine lines that lose 3 % more than broad ones are not.
So a contrast tells small faults that each measure alone would leave within its spread.
"""

import numpy as np

from proofkit.arrays import Floats
from proofkit.judgement.scales import CONTRASTS
from proofkit.judgement.values import SHEET, Column, Values


def _row_median(values: Floats) -> Floats:
    return np.array(
        [np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in values]
    )


def _picked(column: Column, regions: tuple[str, ...]) -> Column:
    at = [column.regions.index(region) for region in regions]
    return Column(
        column.judged, regions, column.scaled[:, at], column.uncertainties[:, at], column.on_standard[at]
    )


def _fine_against_broad(values: Values) -> Column | None:
    fine, broad = values.columns.get("fine_line_load_um"), values.columns.get("broad_line_load_um")
    if fine is None or broad is None:
        return None
    shared = tuple(region for region in fine.regions if region in broad.regions)
    if not shared:
        return None
    fine, broad = _picked(fine, shared), _picked(broad, shared)
    return Column(
        CONTRASTS["fine_against_broad"],
        shared,
        fine.scaled - broad.scaled,
        np.hypot(fine.uncertainties, broad.uncertainties),
        np.log(fine.on_standard / broad.on_standard),
    )


def _gaps_against_film(values: Values, standard: int) -> Column | None:
    gaps, film = values.columns.get("ground_between_lines_density"), values.columns.get("plate_tone_density")
    if gaps is None or film is None:
        return None
    change = _row_median(film.scaled - film.scaled[standard])
    return Column(
        CONTRASTS["gaps_against_film"],
        gaps.regions,
        gaps.scaled - change[:, None],
        gaps.uncertainties,
        gaps.on_standard,
    )


def _drypoint_against_rest(values: Values, standard: int, drypoint: frozenset[str]) -> Column | None:
    load = values.columns.get("line_load_um")
    if load is None:
        return None
    burr = np.array([region in drypoint for region in load.regions], dtype=bool)
    if burr.all() or not burr.any():
        return None
    change = load.scaled - load.scaled[standard]
    difference = _row_median(change[:, burr]) - _row_median(change[:, ~burr])
    return Column(
        CONTRASTS["drypoint_against_rest"],
        (SHEET,),
        difference[:, None],
        np.zeros((len(values.pulls), 1)),
        np.zeros(1),
    )


def with_contrasts(values: Values, standard: str, drypoint: frozenset[str]) -> Values:
    """Return `values` with the contrasts that its columns allow added to them.

    Parameters
    ----------
    values : Values
    standard : str
        One of the pulls.
    drypoint : frozenset of str
        Names of the drypoint regions.

    Returns
    -------
    Values
        With `fine_against_broad`, the logarithm of the load of the finest lines over that of the broadest, per region;
        `gaps_against_film`, the ground between lines less the change of the sheet's plate tone, D, per region;
        `drypoint_against_rest`, the logarithm of the change of drypoint over that of other line work, per sheet.
    """
    at = values.pulls.index(standard)
    made = (
        _fine_against_broad(values),
        _gaps_against_film(values, at),
        _drypoint_against_rest(values, at, drypoint),
    )
    more = {
        column.judged.measure: column
        for column in made
        if column is not None and np.isfinite(column.scaled).any()
    }
    return Values(values.pulls, values.regions, values.columns | more, values.relay)
