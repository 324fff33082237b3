"""What is asked of a change where one pull of each state has to speak for it: no second pull tells its faults apart."""

import math

SHORTEST_ALONE_MM = 1.2
"""Shortest stretch, on which a fibre or a tear in the film looks like the work of a burin. [mm]"""

SHORTEST_CROSSED_ALONE_MM = 2.0
"""... and where it is crossed so densely that only its mean darkness is known: 1.9 mm of a line seemed to have gone
between two pulls of one state (simulated pairs). [mm]"""

SHORTEST_LOAD_ALONE_MM = 2.5
"""Shortest stretch that is called deepened or lightened: of 2.0 mm, one of one state seemed a quarter lighter
(simulated pairs). [mm]"""

LEAST_CHANGE_UM = 5.0
"""Smaller changes of a load are grain of the paper, which makes 1 to 2 µm of a crossing; a line of 10 µm seemed 3 µm
lighter (simulated pairs). [µm]"""

FAINT_UM = 20.0
"""A line of less load is narrower than the blur of a 600 ppi scan, so that its darkness goes with its load. [µm]"""

AGREES = 0.5
"""... by at least this share of it, as logarithms: grain beside a line changes the one and not the other. [-]"""

LEAST_DIP_ALONE = 0.2
"""A line that is less darker than its sides than this does not speak by it against its load. R/Rp [-]"""


def shortest_mm(*, is_clear: bool) -> float:
    """Return the shortest stretch that is told by itself. [mm]"""
    return SHORTEST_ALONE_MM if is_clear else SHORTEST_CROSSED_ALONE_MM


def is_grain(load_um: tuple[float, float], dip: tuple[float, float]) -> bool:
    """Return whether a change of load may be the grain of one sheet of paper.

    Parameters
    ----------
    load_um : (float, float)
        Before and after. [µm]
    dip : (float, float)
        Mean darkness against the sides before and after, in one unit.

    Examples
    --------
    >>> is_grain((9.9, 6.5), (1.0, 0.7)), is_grain((17.8, 11.5), (1.0, 0.95)), is_grain((17.8, 11.5), (1.0, 0.7))
    (True, True, False)
    >>> is_grain((60.0, 90.0), (1.0, 1.0))
    False
    """
    before, after = load_um
    if abs(after - before) < LEAST_CHANGE_UM:
        return True
    if max(load_um) > FAINT_UM or min(load_um) <= 0:
        return False
    log = math.log(after / before)
    agrees = math.log(max(dip[1], 1e-6) / max(dip[0], 1e-6)) / log
    return agrees < AGREES
