"""Tone curve from a step wedge that lies beside the sheet: codes of its steps against their known densities."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from proofkit.arrays import Floats, Mask, Points
from proofkit.errors import CalibrationError
from proofkit.folder.edition import Wedge
from proofkit.reflectance.colour import LUMINANCE_WEIGHTS
from proofkit.scan.reading import read_codes
from proofkit.scan.types import ScanFile, ToneCurve

STEPS_MIN = 3
"""Fewest steps that make a curve."""

MIDDLE = (0.25, 0.75)
"""Part of a step that is read, along and across: the rest may be edge, flare or a slip of the corners. [-]"""

TRIM = 0.1
"""Share of pixels left out at each end before the mean, for dust and scratches. [-]"""

CLIPPED_SHARE = 0.05
"""A step is saturated when more than this share of its pixels has the first or the last code. [-]"""

RELATIVE_WEDGE_DENSITY = 0.03
"""A lightest step below this is taken as counted from the wedge's own white: no paper base is so white. [D]"""

_CODE_SLACK = 0.3 / 255
"""Codes that may lie the wrong way round before the order counts as wrong. [full scale]"""


@dataclass(frozen=True, slots=True, eq=False)
class Steps:
    """What was read at the steps of a wedge, in order of density."""

    densities: Floats
    """(steps,) rising. [D]"""
    codes: Floats
    """(steps, channels) trimmed means, full scale = 1. [-]"""
    u_codes: Floats
    """(steps, channels) their standard uncertainty. [-]"""
    is_saturated: Mask
    """(steps,)"""


def wedge_curve(file: ScanFile, wedge: Wedge) -> ToneCurve:
    """Return the tone curve that a step wedge in the scan shows.

    Parameters
    ----------
    file : ScanFile
    wedge : Wedge
        Densities, and place; without a place it is looked for.

    Returns
    -------
    ToneCurve
        `residual_density` is the rms of each inner step against the curve through the others. [D]

    Raises
    ------
    CalibrationError
        If the wedge lies outside the scan, has too few usable steps, or its codes do not fall as density rises.

    Notes
    -----
    Between the steps density is interpolated monotonically (piecewise cubic Hermite, Fritsch and Carlson 1980) over
    the logarithm of the code, where every gamma encoding is a straight line; beyond the end steps the line of the two
    last steps goes on. Each channel has its own curve, so that the wedge becomes neutral.
    """
    if not wedge.corners_px:
        from proofkit.reflectance.find_wedge import find_wedge  # noqa: PLC0415  reads the scan once more

        wedge = find_wedge(file, wedge)
    steps = read_steps(file, wedge)
    used = usable_steps(file, steps)
    codes = np.linspace(0.0, 1.0, 1 << file.bits)
    density_of = [
        _density_of(steps.codes[used, c], steps.densities[used], codes) for c in range(file.channels)
    ]
    light = np.where(codes > 0, 10.0 ** -np.asarray(density_of), 0.0)
    if steps.densities[used][0] < RELATIVE_WEDGE_DENSITY:
        light /= max(1.0, float(light.max()))
    residual = _residual(steps, used)
    name = f"step wedge, {used.sum()} of {used.size} steps, residual {residual:.3f} D"
    left_out = ", ".join(f"{value:g}" for value in steps.densities[~used])
    return ToneCurve(
        tables=np.minimum(light, 1.0).astype(np.float32),
        weights=LUMINANCE_WEIGHTS if file.channels == 3 else (1.0,),
        name=f"{name}, left out: {left_out} D" if left_out else name,
        residual_density=residual,
    )


def step_points(wedge: Wedge) -> list[Points]:
    """Return pixel positions that cover the middle of each step.

    Parameters
    ----------
    wedge : Wedge
        Four corners, the first two on the outer side of the first step; or the centres of the first and the
        last step, whose distance then gives the size of a step.

    Returns
    -------
    list of Points
        (n, 2) for each step, about one point a pixel. [px]
    """
    given = np.asarray(wedge.corners_px, dtype=np.float64)
    count = len(wedge.densities)
    if len(given) == 2:
        pitch = (given[1] - given[0]) / (count - 1)
        across = np.array([-pitch[1], pitch[0]])
        start, end = given[0] - pitch / 2, given[1] + pitch / 2
        given = np.array([start - across / 2, start + across / 2, end + across / 2, end - across / 2])
    elif _crosses(given):
        given = given[[0, 1, 3, 2]]
    first, second, third, fourth = given
    length = max(float(np.linalg.norm(fourth - first)), float(np.linalg.norm(third - second))) / count
    width = max(float(np.linalg.norm(second - first)), float(np.linalg.norm(third - fourth)))
    u_parts = np.linspace(*MIDDLE, max(2, round(length * (MIDDLE[1] - MIDDLE[0]))))
    v_parts = np.linspace(*MIDDLE, max(2, round(width * (MIDDLE[1] - MIDDLE[0]))))
    points = []
    for step in range(count):
        u, v = (grid.ravel()[:, None] for grid in np.meshgrid((step + u_parts) / count, v_parts))
        points.append(
            np.asarray((1 - u) * ((1 - v) * first + v * second) + u * ((1 - v) * fourth + v * third))
        )
    return points


def read_steps(file: ScanFile, wedge: Wedge) -> Steps:
    """Return the codes of the steps of a wedge in order of density; see `wedge_curve` for the errors."""
    _check(wedge)
    points = step_points(wedge)
    everything = np.concatenate(points)
    low = np.floor(everything.min(axis=0) + 0.5).astype(int)
    high = np.floor(everything.max(axis=0) + 0.5).astype(int) + 1
    if low.min() < 0 or high[0] > file.width or high[1] > file.height:
        raise CalibrationError(
            f"The step wedge reaches from x {low[0]} to {high[0]}, y {low[1]} to {high[1]} px; scan '{file.path.name}' "
            f"is {file.width} x {file.height} px. Mend corners of the wedge in edition.toml."
        )
    codes = read_codes(file, (int(low[0]), int(low[1]), int(high[0]), int(high[1])))
    top = (1 << file.bits) - 1
    found = [_read_step(codes, place - low, top) for place in points]
    order = np.argsort(np.asarray(wedge.densities), kind="stable")
    means, uncertainties, saturated = (np.asarray(part)[order] for part in zip(*found, strict=True))
    return Steps(np.asarray(wedge.densities, dtype=np.float64)[order], means, uncertainties, saturated)


def usable_steps(file: ScanFile, steps: Steps) -> Mask:
    """Return which steps can be told apart: not saturated, and darker than the step before in all channels.

    Raises
    ------
    CalibrationError
        If codes rise with density by more than their uncertainty, or too few steps remain.
    """
    used = ~steps.is_saturated
    last = -1
    for k in np.flatnonzero(used):
        if last >= 0:
            rise = steps.codes[k] - steps.codes[last]
            slack = 3 * np.hypot(steps.u_codes[k], steps.u_codes[last]) + _CODE_SLACK
            if (rise > slack).any():
                raise _wrong_order(file, steps, last, int(k))
            if (rise >= 0).any():
                used[k] = False
                continue
        last = int(k)
    if used.sum() < STEPS_MIN:
        raise CalibrationError(
            f"Only {used.sum()} of {used.size} steps of the wedge in scan '{file.path.name}' can be told apart; "
            f"{STEPS_MIN} are needed. Scan with less exposure or mend corners of the wedge in edition.toml."
        )
    return used


def _check(wedge: Wedge) -> None:
    """Raise CalibrationError for densities or corners that make no wedge."""
    values = np.asarray(wedge.densities, dtype=np.float64)
    if values.size < STEPS_MIN or not np.isfinite(values).all() or values.min() < -0.1 or values.max() > 5:
        raise CalibrationError(
            f"The step wedge has densities {', '.join(f'{v:g}' for v in values) or 'none'}; at least {STEPS_MIN} from "
            "0 to 5 D are needed. Mend densities of the wedge in edition.toml."
        )
    if np.unique(values).size < values.size:
        raise CalibrationError(
            "The step wedge names a density twice; each step needs its own. "
            "Mend densities of the wedge in edition.toml."
        )
    corners = np.asarray(wedge.corners_px, dtype=np.float64)
    if corners.shape not in {(2, 2), (4, 2)} or not np.isfinite(corners).all():
        raise CalibrationError(
            f"The step wedge has {len(wedge.corners_px)} corners; four corners, or the centres of the first and the "
            "last step, are needed. Mend corners of the wedge in edition.toml."
        )


def _crosses(corners: Points) -> bool:
    """Return whether the third and fourth corner are given in the other order."""
    straight = np.linalg.norm(corners[2] - corners[1]) + np.linalg.norm(corners[3] - corners[0])
    swapped = np.linalg.norm(corners[3] - corners[1]) + np.linalg.norm(corners[2] - corners[0])
    return bool(swapped < straight)


def _read_step(
    codes: npt.NDArray[np.uint8] | npt.NDArray[np.uint16], points: Points, top: int
) -> tuple[Floats, Floats, bool]:
    """Return trimmed mean and uncertainty of each channel, full scale = 1, and whether the step is saturated."""
    columns, rows = np.floor(points + 0.5).astype(int).T
    values = np.sort(codes[rows, columns].astype(np.float64), axis=0)
    clipped = np.maximum((values == 0).mean(axis=0), (values == top).mean(axis=0)).max()
    cut = int(TRIM * len(values))
    kept = values[cut : len(values) - cut]
    return (
        kept.mean(axis=0) / top,
        values.std(axis=0) / top / np.sqrt(len(kept)),
        bool(clipped > CLIPPED_SHARE),
    )


def _density_of(codes: Floats, densities: Floats, wanted: Floats) -> Floats:
    """Return density of the `wanted` codes (0 to 1) from steps with falling codes."""
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415  half a second, and most scans have no wedge

    x, y = np.log(codes[::-1]), densities[::-1]
    at = np.log(np.maximum(wanted, 1e-9))
    inside = PchipInterpolator(x, y)(np.clip(at, x[0], x[-1]))
    below = (y[1] - y[0]) / (x[1] - x[0]) * np.minimum(at - x[0], 0.0)
    above = (y[-1] - y[-2]) / (x[-1] - x[-2]) * np.maximum(at - x[-1], 0.0)
    return np.asarray(inside + below + above)


def _residual(steps: Steps, used: Mask) -> float:
    """Return the rms over inner steps and channels of each step against the curve through the others. [D]"""
    codes, densities = steps.codes[used], steps.densities[used]
    errors = []
    for k in range(1, len(densities) - 1):
        others = np.arange(len(densities)) != k
        for channel in range(codes.shape[1]):
            predicted = _density_of(codes[others, channel], densities[others], codes[k : k + 1, channel])
            errors.append(float(predicted[0] - densities[k]))
    return float(np.sqrt(np.mean(np.square(errors))))


def _wrong_order(file: ScanFile, steps: Steps, lighter: int, darker: int) -> CalibrationError:
    return CalibrationError(
        f"The wedge in scan '{file.path.name}' reads code {steps.codes[lighter].mean():.4f} (of 1) at "
        f"{steps.densities[lighter]:g} D but {steps.codes[darker].mean():.4f} at {steps.densities[darker]:g} D; codes "
        "must fall as density rises. Check corners and the order of densities of the wedge in edition.toml."
    )
