"""The methods paragraph of a write-up: every point that a reader needs to do the same, unknown ones said as unknown."""

from collections.abc import Mapping
from dataclasses import dataclass

UNKNOWN = "Not recorded"


@dataclass(frozen=True, slots=True)
class MethodPoint:
    """One point of the methods."""

    key: str
    lead: str
    """How the sentence begins."""


METHOD_POINTS = (
    MethodPoint("plate", "Plate (metal, gauge, size, facing)"),
    MethodPoint("tool", "Tool or ground, mordant, bite times or burin"),
    MethodPoint("paper", "Paper (kind, weight, fibre, sizing, lot)"),
    MethodPoint("damping", "Damping (soak, rest, moisture by weight)"),
    MethodPoint("ink", "Ink (pigment, oil, ratio, stiffness, age)"),
    MethodPoint("plate_temperature", "Temperature of the plate"),
    MethodPoint("wiping", "Inking and wiping (order, counts, changes of cloth)"),
    MethodPoint("press", "Blankets, pressure and how it was measured, passes"),
    MethodPoint("order", "Order and time of the pulls"),
    MethodPoint("drying", "Drying and flattening"),
    MethodPoint(
        "capture", "Capture (device class, resolution, bit depth, tone curve, target, backing, orientation)"
    ),
    MethodPoint("days_since_pull", "Days between pull and scan"),
    MethodPoint("glare", "Glare control"),
    MethodPoint("regions", "Regions (how, by whom, before or after seeing results)"),
    MethodPoint("measures", "Measures"),
    MethodPoint("counts", "Numbers"),
    MethodPoint("repeatability", "Error of repeated scans"),
    MethodPoint("operators", "Error between operators"),
    MethodPoint("exclusions", "Left out"),
    MethodPoint("availability", "Tables and scans"),
)
"""What a write-up of print research has to tell to be repeatable: common practice of the field."""


def methods_sentences(told: Mapping[str, str], found: Mapping[str, str]) -> tuple[str, ...]:
    """Return one sentence a point, and at the end one that names every point that nobody recorded.

    Parameters
    ----------
    told : mapping of str to str
        Point -> what a person wrote; goes before what was found.
    found : mapping of str to str
        Point -> what the records of the folder tell.

    >>> methods_sentences({"glare": "polarising filters"}, {"counts": "12 pulls"})[:2]
    ('Glare control: polarising filters.', 'Numbers: 12 pulls.')
    """
    texts = {point: told.get(point.key) or found.get(point.key, "") for point in METHOD_POINTS}
    sentences = [f"{point.lead}: {text.rstrip('.')}." for point, text in texts.items() if text]
    missing = [point.lead[0].lower() + point.lead[1:] for point, text in texts.items() if not text]
    return (*sentences, f"{UNKNOWN}: {'; '.join(missing)}.") if missing else tuple(sentences)
