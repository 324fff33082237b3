"""Looking at laid sheets: parts at any scale, differences, cuts, points, and the places worth a look."""

from proofkit.looking.compare import Cut, PointReading, cut_across, density_difference, read_point
from proofkit.looking.sights import Sight, laid_sight, marked_sight, plain_sight
from proofkit.looking.view import look

__all__ = [
    "Cut",
    "PointReading",
    "Sight",
    "cut_across",
    "density_difference",
    "laid_sight",
    "look",
    "marked_sight",
    "plain_sight",
    "read_point",
]
