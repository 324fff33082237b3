"""Compiled analysis of one profile across a line: centre, ground, load, edges."""

import numpy as np

from proofkit.arrays import Floats, Plane, Points
from proofkit.lines.profile_kernels import fill_profile, longest_reach, room_for
from proofkit.scan.compiling import kernel

COLUMNS = (
    "load", "width", "depth", "core", "softness", "offset", "left_edge", "right_edge", "hollow", "ground", "gap",
)  # fmt: skip
"""What the kernels write for each crossing, in this order; lengths in mm."""

EXPECTED = (
    "width",
    "left",
    "right",
    "strip_left",
    "strip_right",
    "leak_left",
    "leak_right",
    "reach",
    "gap_side",
)
"""What they need to know of each crossing, in this order; lengths in mm. `gap_side` is -1 when the narrower gap is at
the negative side, else 1."""

ROUNDS, SETTLED = 6, 1e-7
"""Ground and load depend on each other; each round leaves a tenth of the difference or less, and less than so much of
the load is as good as none."""

CENTRE_MARGIN_MM = 0.03
"""Ink this far outside the expected width of a line still moves its centre. [mm]"""


@kernel
def _hat_up_to(u: float) -> float:
    """Return the integral of a sample's hat function from its left end up to `u` steps from its middle."""
    u = min(max(u, -1.0), 1.0)
    return 0.5 + u - 0.5 * u * abs(u)


@kernel
def _hat_within(low: float, high: float, k: int) -> float:
    """Return what of the hat function of sample `k` lies from `low` to `high`. [steps]"""
    return _hat_up_to(high - k) - _hat_up_to(low - k)


@kernel
def _strip_mean(values: Floats, m: int, first: float, step: float, middle: float, half: float) -> float:
    """Return the mean of the first `m` samples over ``middle ± half``; sample 0 lies at `first`.

    Each sample weighs what its hat function has within the strip, which is the mean of the profile drawn straight
    from sample to sample; what a curved profile has more than that, a twelfth of its second difference, is taken
    off. Whole cells instead shift the strip by a part of a step: in a gap of 80 µm at 600 ppi, 0.6 % of the ground.
    """
    low = (middle - half - first) / step
    high = (middle + half - first) / step
    begin = min(max(int(np.floor(low)) - 2, 0), m - 1)
    end = max(min(int(np.ceil(high)) + 2, m - 1), 0)
    total = 0.0
    weights = 0.0
    before = _hat_within(low, high, begin - 1)
    here = _hat_within(low, high, begin)
    for k in range(begin, end + 1):
        after = _hat_within(low, high, k + 1)
        weight = here
        if 0 < k < m - 1:
            weight -= (before - 2.0 * here + after) / 12.0
        total += weight * values[k]
        weights += weight
        before, here = here, after
    return total / max(weights, 1e-9)


@kernel
def _centre(values: Floats, m: int, first: float, step: float, expected: Floats) -> float:
    """Return where the line's dark lies within reach of the expected centre. [mm]"""
    width, left, right, reach = expected[0], expected[1], expected[2], expected[7]
    darkest = -1
    for k in range(m):
        if abs(first + k * step) <= reach and (darkest < 0 or values[k] < values[darkest]):
            darkest = k
    about = first + darkest * step
    from_mm = max(about - width / 2 - CENTRE_MARGIN_MM, -left)
    to_mm = min(about + width / 2 + CENTRE_MARGIN_MM, right)
    top = -np.inf
    for k in range(m):
        if from_mm <= first + k * step <= to_mm:
            top = max(top, values[k])
    total = 0.0
    moment = 0.0
    for k in range(m):
        s = first + k * step
        if from_mm <= s <= to_mm:
            total += top - values[k]
            moment += (top - values[k]) * s
    return moment / total if total > 0 else 0.0


@kernel
def _fall(ink: Floats, m: int, first: float, step: float, level: float, start: int, direction: int) -> float:
    """Return where `ink` first drops below `level`, going from `start` in `direction`; NaN when it does not. [mm]"""
    k = start + direction
    while 0 <= k < m:
        if ink[k] < level:
            high, low = ink[k - direction], ink[k]
            if high == low:
                return np.nan
            part = 0.0 if low == -np.inf else min(max((high - level) / (high - low), 0.0), 1.0)
            return first + (k - direction + part * direction) * step
        k += direction
    return np.nan


@kernel
def _within(
    m: int, first: float, step: float, centre: float, left: float, right: float, inside: Floats, along: Floats
) -> tuple[int, int]:
    """Write what part of each sample lies within the span and how far along it; return which samples do at all.

    The span reaches from `left` before the centre to `right` after it; first sample, and the last not included: of the
    others nothing is written.
    """
    start, length = (first - centre + left) / step, (left + right) / step
    begin = min(max(int(np.floor(-0.5 - start)) + 1, 0), m)
    end = max(min(int(np.ceil(length + 0.5 - start)), m), begin)
    share = 1.0 / length
    for k in range(begin, end):
        steps = start + k
        inside[k] = min(max(steps + 0.5, 0.0), 1.0) * min(max(length - steps + 0.5, 0.0), 1.0)
        along[k] = min(max(steps * share, 0.0), 1.0)
    return begin, end


@kernel
def analyse(values: Floats, m: int, step: float, expected: Floats, room: Floats, out: Floats) -> None:
    """Write what the first `m` samples of one profile say; `room` (4, m or more) is working memory.

    `expected` is laid out as `EXPECTED`, `out` as `COLUMNS`. The middle sample lies on the expected centreline.
    """
    out[:] = np.nan
    for k in range(m):
        if np.isnan(values[k]):
            return
    width, left_mm, right_mm = expected[0], expected[1], expected[2]
    first = -(m // 2) * step
    centre = _centre(values, m, first, step, expected)
    seen_left = _strip_mean(values, m, first, step, centre - left_mm, expected[3])
    seen_right = _strip_mean(values, m, first, step, centre + right_mm, expected[4])
    left, right = seen_left, seen_right
    ink, smooth, inside, along = room[0], room[1], room[2], room[3]
    begin, end = _within(m, first, step, centre, left_mm, right_mm, inside, along)
    for k in range(m):
        ink[k] = -np.inf
    load, before = 0.0, 0.0
    for turn in range(ROUNDS + 1):
        if turn:
            # Depth of the sharp line from its load and width; it says how much the tails darken the gaps.
            sharp = min(max(load / max(width, 1e-6), 0.0), 0.99)
            left = seen_left / min(max(1.0 - expected[5] * sharp, 0.2), 1.0)
            right = seen_right / min(max(1.0 - expected[6] * sharp, 0.2), 1.0)
        for k in range(begin, end):
            ink[k] = 1.0 - values[k] / max(left * (1.0 - along[k]) + right * along[k], 1e-6)
        even, odd = 0.0, 0.0
        for k in range(begin, end - 1, 2):
            even += ink[k] * inside[k]
            odd += ink[k + 1] * inside[k + 1]
        if (end - begin) % 2:
            even += ink[end - 1] * inside[end - 1]
        before, load = load, (even + odd) * step
        if abs(load - before) <= SETTLED * abs(load):
            break
    smooth[0], smooth[m - 1] = ink[0], ink[m - 1]
    for k in range(1, m - 1):
        smooth[k] = (ink[k - 1] + ink[k] + ink[k + 1]) / 3.0
    out[0] = load
    out[9] = (left + right) / 2.0
    out[10] = seen_left if expected[8] < 0 else seen_right
    _edges(values, m, step, centre, max(width / 2.0, 2.0 * step), ink, smooth, out)


@kernel
def _edges(
    values: Floats,
    m: int,
    step: float,
    centre: float,
    reach: float,
    ink: Floats,
    smooth: Floats,
    out: Floats,
) -> None:
    """Write depth, core, edges, softness and hollowness of the line within `reach` of its `centre`."""
    first = -(m // 2) * step
    peak = -1
    core = np.inf
    shoulder_left = -np.inf
    shoulder_right = -np.inf
    for k in range(m):
        s = first + k * step
        if abs(s - centre) > reach:
            continue
        core = min(core, values[k])
        if peak < 0 or smooth[k] > smooth[peak]:
            peak = k
        if s < centre:
            shoulder_left = max(shoulder_left, smooth[k])
        elif s > centre:
            shoulder_right = max(shoulder_right, smooth[k])
    if peak < 0:
        return
    depth = smooth[peak]
    middle = min(max(int(np.rint(centre / step)) + m // 2, 0), m - 1)
    start = middle if ink[middle] > depth / 2.0 else peak
    left = _fall(ink, m, first, step, depth / 2.0, start, -1)
    right = _fall(ink, m, first, step, depth / 2.0, start, 1)
    out[1] = right - left
    out[2] = depth
    out[3] = core
    softness = 0.0
    for direction in (-1, 1):
        ninety = _fall(ink, m, first, step, 0.9 * depth, start, direction)
        ten = _fall(ink, m, first, step, 0.1 * depth, start, direction)
        softness += abs(ten - ninety) / 2.0
    out[4] = softness
    out[5] = (left + right) / 2.0
    out[6] = left
    out[7] = right
    out[8] = min(max(1.0 - ink[middle] / max(min(shoulder_left, shoulder_right), 1e-6), 0.0), 1.0)


@kernel
def analyse_all(profiles: Floats, step: float, expected: Floats) -> Floats:
    """Return (n, columns) of what (n, m) profiles say."""
    n, m = profiles.shape
    out = np.empty((n, 11))
    room = np.empty((4, m))
    for i in range(n):
        analyse(profiles[i], m, step, expected[i], room, out[i])
    return out


@kernel
def read_and_analyse(
    plane: Plane,
    centres: Points,
    steps: Points,
    halves: Floats,
    step_mm: float,
    coefficients: Floats,
    surface: Floats,
    expected: Floats,
) -> Floats:
    """Return (n, columns) of what profiles along `steps` through `centres` say, each ``2 halves + 1`` samples long."""
    n = centres.shape[0]
    longest = 2 * int(halves.max()) + 1 if n else 1
    values, room = np.empty(longest), np.empty((4, longest))
    of_profile = room_for(longest, longest_reach(steps, halves))
    out = np.empty((n, 11))
    for i in range(n):
        half = int(halves[i])
        fill_profile(plane, centres[i], steps[i], half, coefficients, surface, of_profile, values)
        analyse(values, 2 * half + 1, step_mm, expected[i], room, out[i])
    return out
