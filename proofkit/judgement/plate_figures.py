"""Figures of the whole plate from the coarse tone pictures: ramps and patches of film and line work.

Regions are islands; a ramp of pressure or of wiping runs over all of them. The coarse pictures (one mean of linear
reflectance per half millimetre, laid on the standard) show it. Bare cells carry the film; in worked cells the film is
divided out before line work is compared, as a film alone makes hatching look heavier.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from scipy import ndimage

from proofkit.arrays import Floats, Mask, Picture
from proofkit.edition import TONE_PITCH_MM
from proofkit.folder.edition import Region
from proofkit.scatter import robust_sd

BARE_ABOVE_GROUND_DENSITY = 0.03
"""Cells of the standard up to this far above its ground count as bare; a 60 µm black line through a cell of 0.5 mm
adds 0.05. [D]"""

GROUND_PERCENTILE = 20.0
"""Percentile of the standard's cells that is taken for ground: even a full plate leaves a fifth unworked. [%]"""

WORKED_FRACTION = 0.12
"""Least share of ink for a cell to be compared as line work. [-]"""

BLOCK_CELLS = 6
"""Side of the blocks that are compared: 3 mm at 0.5 mm a cell, so that misfit and grain average out. [cells]"""

MIN_BLOCKS = 12
"""Fewest blocks for a plane to be fitted. [-]"""

PATCH_BLOCKS = 16
"""Blocks that go together in a patch of wiping or dabbing, 12 mm square: so many count as one in the uncertainty of a
ramp. [blocks] Common practice, the ball of a hand or of a dabber."""

NAMES = (
    "film_ramp_x_density",
    "film_ramp_y_density",
    "film_patch_density",
    "load_ramp_x_fraction",
    "load_ramp_y_fraction",
    "load_patch_fraction",
    "load_grain_fraction",
)
"""The figures, as in the tables."""

UNCERTAINTIES = tuple(
    f"u_{kind}_ramp_{axis}_{unit}"
    for kind, unit in (("film", "density"), ("load", "fraction"))
    for axis in "xy"
)


@dataclass(frozen=True, slots=True, eq=False)
class PlateFigures:
    """One value per pull for each figure; NaN where the pictures do not give it."""

    by_name: dict[str, list[float]]
    """`film_ramp_x_density`, `film_ramp_y_density`: change of the film against the standard from the left (top)
    edge of the plate to the right (bottom). [D] `film_patch_density`: what remains of the film's change once the ramp
    is taken out, robust standard deviation over blocks of 3 mm. [D] `load_ramp_*`, `load_patch_fraction`: the same of
    the line work, relative. [-] `load_grain_fraction`: the scatter of line work within blocks, relative. [-]
    `u_` before the name of a ramp: its standard uncertainty."""


def _blocks(picture: Floats) -> Floats:
    """Return the mean over blocks of `BLOCK_CELLS`; NaN where fewer than half the cells have a value."""
    rows, columns = (side // BLOCK_CELLS for side in picture.shape)
    cut = picture[: rows * BLOCK_CELLS, : columns * BLOCK_CELLS]
    cells = cut.reshape(rows, BLOCK_CELLS, columns, BLOCK_CELLS)
    known = np.isfinite(cells)
    count = known.sum(axis=(1, 3))
    total = np.where(known, cells, 0.0).sum(axis=(1, 3))
    half = BLOCK_CELLS * BLOCK_CELLS / 2
    return np.asarray(np.where(count >= half, total / np.maximum(count, 1), np.nan))


def _bare_cells(standard: Floats) -> Mask:
    """Return the cells of the standard that hold ground alone, those beside a line left out."""
    with np.errstate(divide="ignore", invalid="ignore"):
        dark = -np.log10(np.where(standard > 0, standard, np.nan))
    if not np.isfinite(dark).any():
        return np.zeros(standard.shape, dtype=bool)
    ground = float(np.nanpercentile(dark, GROUND_PERCENTILE))
    pale = np.nan_to_num(dark, nan=np.inf) < ground + BARE_ABOVE_GROUND_DENSITY
    return np.asarray(ndimage.binary_erosion(pale, iterations=1))


def _plane(values: Floats, beside: Floats | None = None) -> tuple[float, float, Floats]:
    """Fit a plane robustly; return its rise over the full width, over the full height, and the residuals.

    What goes with `beside` (same shape, no NaN where `values` has none) is taken out together with the plane.
    Iteratively reweighted least squares with Huber's weights (k = 1.345 robust standard deviations).
    """
    rows, columns = values.shape
    y, x = np.nonzero(np.isfinite(values))
    if x.size < MIN_BLOCKS or np.ptp(x) < columns * 0.3 or np.ptp(y) < rows * 0.3:
        return float("nan"), float("nan"), np.full(values.shape, np.nan)
    design = np.column_stack((np.ones(x.size), (x + 0.5) / columns - 0.5, (y + 0.5) / rows - 0.5))
    if beside is not None:
        design = np.column_stack((design, beside[y, x]))
    data = values[y, x]
    weights = np.ones(x.size)
    coefficients = np.zeros(design.shape[1])
    for _ in range(8):
        root = np.sqrt(weights)
        coefficients = np.linalg.lstsq(design * root[:, None], data * root, rcond=None)[0]
        residual = data - design @ coefficients
        scale = max(robust_sd(residual, about=0), 1e-6)
        weights = np.minimum(1.0, 1.345 * scale / np.maximum(np.abs(residual), 1e-12))
    left = np.full(values.shape, np.nan)
    left[y, x] = data - design @ coefficients
    return float(coefficients[1]), float(coefficients[2]), left


def _filled(values: Floats) -> Floats:
    """Return `values` smoothed over neighbouring blocks, with gaps filled from what is near."""
    known = np.isfinite(values)
    if not known.any():
        return np.zeros(values.shape)
    total = np.zeros(values.shape)
    weight = np.zeros(values.shape)
    for sigma, trust in ((1.5, 1.0), (6.0, 1e-2), (25.0, 1e-4)):
        total += trust * ndimage.gaussian_filter(np.where(known, values, 0.0), sigma)
        weight += trust * ndimage.gaussian_filter(known.astype(np.float64), sigma)
    return np.asarray(
        np.where(weight > 1e-12, total / np.maximum(weight, 1e-12), float(np.nanmedian(values)))
    )


def _scatter_of_known(values: Floats) -> float:
    """Return the scatter, NaN for fewer than `MIN_BLOCKS` values."""
    known = values[np.isfinite(values)]
    if known.size < MIN_BLOCKS:
        return float("nan")
    return robust_sd(known)


def _ramp_uncertainty(left: Floats) -> float:
    """Return the standard uncertainty of a ramp from edge to edge, from what the plane leaves over.

    A slope over uniformly spread x of length 1 has the variance 12 s^2 / n.
    """
    independent = np.isfinite(left).sum() / PATCH_BLOCKS
    return _scatter_of_known(left) * float(np.sqrt(12.0 / max(independent, 1.0)))


def _work_ratio(ink: Floats, ink_standard: Floats) -> Floats:
    """Return the logarithm of line work against the standard's where there is enough of it; NaN elsewhere."""
    use = (ink_standard > WORKED_FRACTION) & (ink > 0)
    return np.asarray(
        np.where(use, np.log(np.where(use, ink, 1.0) / np.where(use, ink_standard, 1.0)), np.nan)
    )


def _film(reflectance: Floats, bare: Mask) -> Floats:
    """Return the film over the whole plate in blocks, from the bare cells. [D]"""
    return _filled(_blocks(np.where(bare, -np.log10(reflectance), np.nan)))


def _spread_out(blocks: Floats) -> Floats:
    """Return blocks as cells."""
    return np.asarray(np.kron(blocks, np.ones((BLOCK_CELLS, BLOCK_CELLS))))


def _within(values: Floats, areas: npt.NDArray[np.intp]) -> Floats:
    """Return `values` less the median of their area, so that kinds of work that answer differently are no patches."""
    result = np.array(values)
    for area in np.unique(areas):
        chosen = (areas == area) & np.isfinite(values)
        if chosen.any():
            result[chosen] -= np.median(values[chosen])
    return result


def _areas(regions: tuple[Region, ...], shape: tuple[int, int]) -> npt.NDArray[np.intp]:
    """Return the number of the region that each block's centre lies in, 0 for none."""
    side_mm = BLOCK_CELLS * TONE_PITCH_MM
    x, y = np.meshgrid((np.arange(shape[1]) + 0.5) * side_mm, (np.arange(shape[0]) + 0.5) * side_mm)
    areas = np.zeros(shape, dtype=np.intp)
    for number, region in enumerate(regions, start=1):
        areas[shapely.contains_xy(region.outline_mm, x, y)] = number
    return areas


def _of_one(picture: Floats, standard: Floats, bare: Mask, areas: npt.NDArray[np.intp]) -> dict[str, float]:
    """Compare one picture with the standard's.

    Film is divided out before line work is compared. A line that loses a tenth of its ink changes a dense hatching
    less than an open one, so what goes with the standard's own tone is no patch and is taken out.
    """
    known = (picture > 0) & (standard > 0)
    sheet, reference = np.where(known, picture, np.nan), np.where(known, standard, np.nan)
    film = _blocks(np.where(bare, np.log10(reference / sheet), np.nan))
    film_x, film_y, film_left = _plane(film)
    film_sheet, film_reference = _film(sheet, bare), _film(reference, bare)
    ink = 1.0 - _blocks(sheet) * 10.0**film_sheet
    ink_reference = 1.0 - _blocks(reference) * 10.0**film_reference
    load_x, load_y, load_left = _plane(_work_ratio(ink, ink_reference), ink_reference)
    rows, columns = (side * BLOCK_CELLS for side in film.shape)
    cells = _work_ratio(
        1.0 - sheet[:rows, :columns] * 10.0 ** _spread_out(film_sheet),
        1.0 - reference[:rows, :columns] * 10.0 ** _spread_out(film_reference),
    )
    grain = cells - _spread_out(_blocks(cells))
    figures = (
        film_x,
        film_y,
        _scatter_of_known(film_left),
        load_x,
        load_y,
        _scatter_of_known(_within(load_left, areas)),
        _scatter_of_known(grain),
    )
    film_doubt, load_doubt = _ramp_uncertainty(film_left), _ramp_uncertainty(load_left)
    doubts = (film_doubt, film_doubt, load_doubt, load_doubt)
    return dict(zip(NAMES + UNCERTAINTIES, figures + doubts, strict=True))


def plate_figures(
    pictures: dict[str, Picture], standard: str, pulls: tuple[str, ...], regions: tuple[Region, ...] = ()
) -> PlateFigures:
    """Return the figures of the whole plate for each pull.

    Parameters
    ----------
    pictures : dict of str to Picture
        Pull -> (h, w) mean linear reflectance of cells of the plate, bare paper = 1; NaN where there is none.
    standard : str
        Pull that the others are compared with.
    pulls : tuple of str
        Pulls wanted, in order.
    regions : tuple of Region, default ()
        Kinds of work, within which line work is asked for patches; the rest of the plate counts as one.

    Returns
    -------
    PlateFigures
        All NaN when the standard has no picture.
    """
    by_name: dict[str, list[float]] = {name: [] for name in NAMES + UNCERTAINTIES}
    reference = pictures.get(standard)
    base = None if reference is None else np.asarray(reference, dtype=np.float64)
    bare = None if base is None else _bare_cells(base)
    areas = (
        None
        if base is None
        else _areas(regions, (base.shape[0] // BLOCK_CELLS, base.shape[1] // BLOCK_CELLS))
    )
    for pull in pulls:
        picture = pictures.get(pull)
        if base is None or bare is None or areas is None or picture is None or picture.shape != base.shape:
            row = dict.fromkeys(NAMES + UNCERTAINTIES, float("nan"))
        else:
            row = _of_one(np.asarray(picture, dtype=np.float64), base, bare, areas)
        for name in NAMES + UNCERTAINTIES:
            by_name[name].append(row[name])
    return PlateFigures(by_name)
