"""Put the symptoms of one flagged sheet together: what `causes.toml` reasons from."""

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from proofkit.edition import MeasuredEdition
from proofkit.judgement.causes import Seen
from proofkit.judgement.findings import Finding
from proofkit.judgement.fit import Fit
from proofkit.judgement.good_pulls import GoodPulls
from proofkit.judgement.in_order import Run, steps_of_change
from proofkit.judgement.readings import Reading, ramp, read
from proofkit.judgement.values import SHEET, Values

FILM_CAN_FALL_FROM_DENSITY = 0.015
"""A standard with less film than this is wiped clean: its film cannot fall by anything that can be seen. [D]"""

FILM_SYMPTOMS = frozenset({"film", "open_film", "gaps", "halo"})
"""Symptoms that fall with the film, and cannot where there is none."""

HINT_OF_COURSE = 0.5
"""From this share of the difference that matters on, a course is a hint. [-]"""

WHOLE_SHEET_SHARE = 0.6
"""From this share of the regions on, a departure is the whole sheet's. [-]"""

EVERYWHERE = {
    "doubling": "doubling_fraction",
    "crease": "crease_mm",
    "misfit": "misfit_um",
    "bevel": "bevel_density",
    "margin": "paper_density",
    "ink_red": "ink_a",
    "ink_yellow": "ink_b",
    "blur": "blur_um",
    "ghost": "set_off_density",
    "load_patch": "load_patch_fraction",
    "load_grain": "load_grain_fraction",
    "blotch": "patch_against_grain",
    "light_against_deep": "light_against_deep",
}
"""Symptoms of the whole sheet, and the measure they are read from."""

WHERE_IT_LEAVES = {
    "load": "line_load_um",
    "width": "line_width_um",
    "core": "line_core_density",
    "continuity": "line_continuity_fraction",
    "load_variation": "line_load_variation",
    "mottle": "mottle_density",
    "hollow": "hollow_index",
    "film": "plate_tone_density",
    "openness": "hatch_open_fraction",
    "halo": "halo_density",
    "softness": "edge_softness_um",
    "fine_against_broad": "fine_against_broad",
    "gaps": "gaps_against_film",
}
"""Symptoms read over the regions concerned."""

AT_ITS_WORST = {
    "streaks": "streak_density",
    "dark_specks": "dark_specks_per_cm2",
    "light_specks": "light_specks_per_cm2",
    "film_patch": "plate_tone_unevenness_density",
}
"""Symptoms read in the region that shows them most: they are local by nature."""

PATCH_OF_FILM = 0.2
"""A film that is uneven by less than this share of what the whole of it has moved is thicker or thinner, not uneven: a
hand's own unevenness grows with the film. Uneven wiping moves parts by as much as the whole. [-]"""

_INK = frozenset(WHERE_IT_LEAVES.values()) | {
    "fine_line_load_um",
    "broad_line_load_um",
    "tone_fraction",
    "light_against_deep",
    "tone_distance_density",
    "ground_between_lines_density",
}

_WEAK = re.compile(r"\b(weak|faint|shallow|slight|light|low|poor|flat)(er|ly)?\b")
_UNEVEN = re.compile(r"\b(uneven(ly)?|not even|one side|one end|left|right|top|bottom|tilted)\b")
_NORMAL = re.compile(r"\b(normal|good|even(ly)?|full|clear|usual|firm|crisp|strong|deep|ok|sharp)\b")
_DENIED = re.compile(r"\b(not|no)\s+\w+")


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What the symptoms of every sheet of an edition are read from."""

    edition: Values
    good: GoodPulls
    open_regions: frozenset[str]
    standard: int
    """Index of the standard among the pulls."""
    notes: dict[str, dict[str, str]]
    """Pull -> what pulls.csv says of it."""
    run: Run


@dataclass(frozen=True, slots=True, eq=False)
class Symptoms:
    """The symptoms of one sheet."""

    readings: dict[str, Reading]
    is_blind: bool
    """True when the standard is wiped clean, so that a fall of film could not be seen."""
    regions: tuple[str, ...]
    """Regions that leave the standard, worst first; empty = none by itself."""
    is_whole: bool

    @property
    def seen(self) -> Seen:
        """The readings as causes are weighed by them."""
        levels = {name: reading.level for name, reading in self.readings.items()}
        spreads = {
            name: reading.telling for name, reading in self.readings.items() if math.isfinite(reading.telling)
        }
        return Seen(levels, FILM_SYMPTOMS if self.is_blind else frozenset(), spreads)


def gather_evidence(measured: MeasuredEdition, values: Values, good: GoodPulls, run: Run) -> Evidence:
    """Return what the symptoms are read from, made once for the edition."""
    return Evidence(
        edition=values,
        good=good,
        open_regions=frozenset(region.name for region in measured.regions if region.work == "open"),
        standard=values.pulls.index(measured.standard),
        notes={pull.pull: pull.notes for pull in measured.edition.pulls},
        run=run,
    )


def concerned(findings: list[Finding], region_count: int) -> tuple[frozenset[str] | None, tuple[str, ...]]:
    """Return where to read the symptoms (None = the whole sheet), and the regions concerned, worst first."""
    worst: dict[str, float] = {}
    for finding in findings:
        if finding.region != SHEET:
            worst[finding.region] = max(worst.get(finding.region, 0.0), abs(finding.deviation))
    regions = tuple(sorted(worst, key=lambda region: -worst[region]))
    ink = {finding.region for finding in findings if finding.measure in _INK and finding.region != SHEET}
    whole = any(finding.measure in _INK and finding.region == SHEET for finding in findings)
    if whole or not ink or len(ink) >= WHOLE_SHEET_SHARE * region_count:
        return None, regions
    return frozenset(ink), regions


def _is_uneven(findings: list[Finding], *, with_film: bool) -> bool:
    """Return whether a ramp or a patch was found: then the sheet is not alike all over, however much of it is off.

    Of the film only `with_film`.
    """
    return any(
        ("_ramp_" in finding.measure or finding.measure == "film_patch_density")
        and (with_film or not finding.measure.startswith("film_"))
        for finding in findings
    )


def _is_even_for_its_film(found: dict[str, Reading | None]) -> bool:
    """Return whether the film has moved so far as a whole that what it is uneven by comes with it."""
    film = found["film"]
    if film is None:
        return False
    moved = abs(film.value - film.centre)
    parts = [found[name] for name in ("film_patch", "film_ramp")]
    return all(part is None or part.level < 1 or abs(part.value) < PATCH_OF_FILM * moved for part in parts)


def embossing_of(note: str) -> tuple[int, int] | None:
    """Return readings (strength, unevenness) of the embossing note; None when it says nothing.

    >>> embossing_of("faint at the left"), embossing_of("even, good"), embossing_of("")
    ((-2, 2), (0, 0), None)
    """
    text = note.casefold()
    uneven = _UNEVEN.search(text) is not None
    text = _DENIED.sub(" ", text)
    weak = _WEAK.search(text) is not None
    if uneven or weak:
        return (-2 if weak else 0), (2 if uneven else 0)
    return (0, 0) if _NORMAL.search(text) else None


def _called(found: dict[str, Reading | None], findings: list[Finding]) -> dict[str, Reading | None]:
    """Return the readings, clear wherever the same measure of this sheet has a finding of the same sign."""
    signs = {(finding.measure, finding.deviation > 0) for finding in findings}
    measures = EVERYWHERE | WHERE_IT_LEAVES | AT_ITS_WORST | {"open_film": WHERE_IT_LEAVES["film"]}
    result = dict(found)
    for name, reading in found.items():
        if reading is not None and reading.level and (measures.get(name, ""), reading.level > 0) in signs:
            result[name] = replace(reading, level=2 if reading.level > 0 else -2)
    return result


def _flat(level: int) -> Reading:
    return Reading(level, float("nan"), float("nan"), float(level))


def _worst(fit: Fit | None, pull: int) -> Reading | None:
    if fit is None:
        return None
    readings = [read(fit, pull, frozenset((region,))) for region in fit.column.regions]
    seen = [reading for reading in readings if reading is not None]
    return max(seen, key=lambda reading: (reading.level, reading.z)) if seen else None


def _ramps(evidence: Evidence, pull: int) -> dict[str, Reading | None]:
    film, film_rise = ramp(evidence.good, pull, "film")
    load, load_rise = ramp(evidence.good, pull, "load")
    found: dict[str, Reading | None] = {"film_ramp": film, "load_ramp": load}
    if film is None or load is None or max(film.level, load.level) < 1:
        return found
    if film.level >= 1 and load.level >= 1:
        cosine = float(film_rise @ load_rise / max(np.hypot(*film_rise) * np.hypot(*load_rise), 1e-12))
        found["ramps_agree"] = _flat(2 if cosine > 0.5 else -2 if cosine < -0.5 else 0)
    elif film.level == 2:
        found["ramps_agree"] = _flat(-2)
    return found


def _along(evidence: Evidence, measure: str, pull: int) -> Reading:
    """Return how far the course of a measure stands from the standard at this pull; higher = farther."""
    course = evidence.run.courses.get(measure)
    if course is None:
        return _flat(0)
    judged = evidence.good.fits[measure].column.judged
    away = abs(float(steps_of_change(judged, course.change[pull])))
    reading = _flat(2 if away >= 1 else 1 if away >= HINT_OF_COURSE else 0)
    return replace(reading, value=away * judged.matters, centre=0.0)


def _order(evidence: Evidence, pull: int) -> dict[str, Reading | None]:
    run, fits = evidence.run, evidence.good.fits
    if not run.is_known:
        return {}
    found: dict[str, Reading | None] = dict.fromkeys(("wear", "burr", "batch"))
    if "fine_line_load_um" in fits or "line_load_um" in fits:
        found["wear"] = _along(evidence, run.wear, pull)
    if "drypoint_against_rest" in fits:
        found["burr"] = _along(evidence, run.burr, pull)
    found["batch"] = _along(evidence, run.batch, pull)
    return found


def symptoms_of(evidence: Evidence, pull: int, findings: list[Finding]) -> Symptoms:
    """Return the symptoms of one flagged sheet.

    Parameters
    ----------
    evidence : Evidence
    pull : int
        Index of the pull in `evidence.edition.pulls`.
    findings : list of Finding
        Of this pull.

    Returns
    -------
    Symptoms
    """
    fits, values = evidence.good.fits, evidence.edition
    where, regions = concerned(findings, len(values.regions))
    found: dict[str, Reading | None] = {name: read(fits.get(m), pull, None) for name, m in EVERYWHERE.items()}
    found |= {name: read(fits.get(m), pull, where) for name, m in WHERE_IT_LEAVES.items()}
    found |= {name: _worst(fits.get(m), pull) for name, m in AT_ITS_WORST.items()}
    if found["load"] is None:
        found["load"] = read(fits.get("tone_fraction"), pull, where)
    found["open_film"] = read(fits.get("plate_tone_density"), pull, evidence.open_regions or None)
    if found["film"] is None:
        found["film"] = found["open_film"]
    patch = read(fits.get("film_patch_density"), pull, None)
    if patch is not None and (found["film_patch"] is None or patch.z > found["film_patch"].z):
        found["film_patch"] = patch
    found |= _ramps(evidence, pull) | _order(evidence, pull)
    is_even = _is_even_for_its_film(found)
    if is_even:
        found["film_patch"] = found["film_ramp"] = None
    note = embossing_of(evidence.notes.get(values.pulls[pull], {}).get("embossing", ""))
    if note is not None:
        found["embossing"], found["embossing_uneven"] = _flat(note[0]), _flat(note[1])
    if any(finding.measure in _INK for finding in findings):
        is_whole = where is None and not _is_uneven(findings, with_film=not is_even)
        found["whole_sheet"] = _flat(2 if is_whole else -2)
    found = _called(found, findings)
    if (
        max((reading.level for name in ("load_patch", "load_grain") if (reading := found[name])), default=0)
        < 2
    ):
        found["blotch"] = None
    film = found["film"]
    is_blind = film is not None and film.centre < FILM_CAN_FALL_FROM_DENSITY and film.level <= 0
    readings = {name: reading for name, reading in found.items() if reading is not None}
    return Symptoms(readings, is_blind, regions, where is None)
