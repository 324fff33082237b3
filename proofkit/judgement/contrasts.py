"""Contrasts: differences of two measures of one sheet, in which the common hand of ink and film drops out.

A sheet may carry 3 % more ink than the standard and be good; fine lines that lose 3 % more than broad ones are not.
So a contrast tells small faults that each measure alone would leave within its spread.
"""

from dataclasses import replace

import numpy as np

from proofkit.arrays import Floats
from proofkit.judgement.scales import CONTRASTS
from proofkit.judgement.values import SHEET, Column, Values

MIN_REGIONS_FOR_HALVES = 4
"""Fewest regions of line work that can be halved into light and deep work. [-]"""


def _row_median(values: Floats) -> Floats:
    return np.array(
        [np.median(row[np.isfinite(row)]) if np.isfinite(row).any() else np.nan for row in values]
    )


def _picked(column: Column, regions: tuple[str, ...]) -> Column:
    at = [column.regions.index(region) for region in regions]
    return Column(
        column.judged,
        regions,
        column.scaled[:, at],
        column.uncertainties[:, at],
        column.shared,
        column.on_standard[at],
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
        np.zeros(len(values.pulls)),
        np.log(fine.on_standard / broad.on_standard),
    )


def _light_against_deep(values: Values, standard: int) -> Column | None:
    """Compare the lighter half of the regions with the deeper half, by the standard's line load."""
    load = values.columns.get("line_load_um")
    if load is None or len(load.regions) < MIN_REGIONS_FOR_HALVES:
        return None
    change = load.scaled - load.scaled[standard]
    order = np.argsort(load.on_standard)
    half = len(order) // 2
    difference = _row_median(change[:, order[:half]]) - _row_median(change[:, order[-half:]])
    none = np.zeros(len(values.pulls))
    return Column(
        CONTRASTS["light_against_deep"], (SHEET,), difference[:, None], none[:, None], none, np.zeros(1)
    )


def _gaps_against_film(values: Values, standard: int) -> Column | None:
    gaps, film = values.columns.get("ground_between_lines_density"), values.columns.get("plate_tone_density")
    if gaps is None or film is None:
        return None
    change = _row_median(film.scaled - film.scaled[standard])
    none = np.zeros(len(values.pulls))
    return Column(
        CONTRASTS["gaps_against_film"],
        gaps.regions,
        gaps.scaled - change[:, None],
        gaps.uncertainties,
        none,
        gaps.on_standard,
    )


def _patch_against_grain(values: Values) -> Column | None:
    patch, grain = values.columns.get("load_patch_fraction"), values.columns.get("load_grain_fraction")
    if patch is None or grain is None:
        return None
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.log(patch.scaled / grain.scaled)
    ratio[~np.isfinite(ratio)] = np.nan
    return Column(
        CONTRASTS["patch_against_grain"],
        patch.regions,
        ratio,
        np.zeros(ratio.shape),
        np.zeros(len(ratio)),
        np.full(1, np.nan),
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
        np.zeros(len(values.pulls)),
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
        `light_against_deep`, the logarithm of the change of load in the lighter half of the regions over that in the
        deeper half, per sheet;
        `gaps_against_film`, the ground between lines less the change of the sheet's plate tone, D, per region;
        `patch_against_grain`, the logarithm of blotches over centimetres against mottle at the grain, per sheet;
        `drypoint_against_rest`, the logarithm of the change of drypoint over that of other line work, per sheet.
    """
    at = values.pulls.index(standard)
    made = (
        _fine_against_broad(values),
        _light_against_deep(values, at),
        _gaps_against_film(values, at),
        _patch_against_grain(values),
        _drypoint_against_rest(values, at, drypoint),
    )
    more = {
        column.judged.measure: column
        for column in made
        if column is not None and np.isfinite(column.scaled).any()
    }
    return replace(values, columns=values.columns | more)
