"""Two states, pull by pull: lay every pull on the first, find the lines of both, judge what differs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from proofkit.arrays import Floats
from proofkit.errors import ComparisonError, LayingError, ProofkitError
from proofkit.folder.edition import Region, rectangle
from proofkit.measures.types import LaidSheet
from proofkit.sheet.reading import read_sheet
from proofkit.sheet.standard import make_standard
from proofkit.sheet.types import Standard
from proofkit.states.areas import changed_areas
from proofkit.states.differences import difference_lines
from proofkit.states.lines import (
    JoinedLines,
    find_own_lines,
    found_in_difference,
    found_on,
    joined_lines,
)
from proofkit.states.placing import lay_on_base
from proofkit.states.readings import PullReading, put_together, read_pull
from proofkit.states.strokes import joined_strokes, with_scratches
from proofkit.states.telling import (
    NOT_THE_SAME,
    names_of,
    remarks_of,
    row_of,
    scan_name,
    seen_fraction,
    whole,
)
from proofkit.states.tone_areas import changed_tones, without_tones
from proofkit.states.tones import read_tone
from proofkit.states.types import KINDS, Change, ChangedArea, PullOfState, Side
from proofkit.states.verdicts import find_changes
from proofkit.threads import solved_in_one_thread

_NO_REGION = (Region("plate", "open", rectangle(0.5, 0.5, 1.5, 1.5)),)
"""A stamp-sized region, so that none are proposed: states are compared without regions."""

LEAST_LINES_MM = 20.0
"""A sheet with less line than this cannot be compared line by line. [mm]"""


@dataclass(frozen=True, slots=True, eq=False)
class ComparedPull:
    """What became of one pull."""

    asked: PullOfState
    laid: LaidSheet | None
    """On the base. Only the first pull of each state keeps its pixels, for pictures; None for the others."""
    row: dict[str, object]
    """Its row of `compared`."""


@dataclass(frozen=True, slots=True, eq=False)
class ComparedStates:
    """Two states compared."""

    verdict: str
    """`no change`, `changed` or `not the same plate`."""
    pulls: tuple[ComparedPull, ...]
    """The first is the base, whose plate frame all places are in."""
    changes: tuple[Change, ...]
    areas: tuple[ChangedArea, ...]
    width_mm: float
    height_mm: float
    seen_fraction: float
    """Share of the base's line length that lies inside the scans of both states. [-]"""
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """A pull that shows the same plate."""

    asked: PullOfState
    sheet: LaidSheet
    row: dict[str, object]


@dataclass(slots=True, eq=False)
class _Table:
    """Gathers what became of the pulls, in the order asked."""

    pulls: list[ComparedPull] = field(default_factory=list)
    failures: dict[str, str] = field(default_factory=dict)
    """Scan -> why it cannot be read."""


Tell = Callable[[str], None]
"""Told what is being done."""


@solved_in_one_thread()
def compare_states(
    before: Sequence[PullOfState], after: Sequence[PullOfState], tell: Tell = lambda _: None
) -> ComparedStates:
    """Return what changed on the plate between two states.

    Parameters
    ----------
    before, after : sequence of PullOfState
        Pulls of the earlier and of the later state, at least one each.
    tell : callable, optional
        Told the name of each pull before it is read.

    Raises
    ------
    ComparisonError
        If a state has no pull that can be read: one line.

    Notes
    -----
    Three scans are held at most: lines are looked for on the first pull of each state, all others are read at those
    lines one after the other.
    """
    table = _Table()
    tell(before[0].name)
    standard, base, rest = _base(before, table)
    size = (standard.plate_width_mm, standard.plate_height_mm)
    later = list(after)
    other: _Laid | None = None
    while later and other is None:
        tell(later[0].name)
        other = _lay(later.pop(0), standard, table)
    if other is None:
        if all(_key(pull.asked) in table.failures for pull in table.pulls if pull.asked.side == "B"):
            raise ComparisonError(next(iter(table.failures.values())))
        return ComparedStates(NOT_THE_SAME, tuple(table.pulls), (), (), *size, 0.0)
    table.pulls[-1] = ComparedPull(other.asked, other.sheet, other.row)
    joined = _all_lines(standard, base, other.sheet)
    read = _Readings(joined, size, {0: base, 1: other.sheet})
    read.add("A", base)
    read.add("B", other.sheet)
    for asked in (*rest, *later):
        tell(asked.name)
        laid = _lay(asked, standard, table)
        if laid is not None:
            read.add(asked.side, laid.sheet)
    tones = changed_tones(read.tones, read.sides)
    usual = float(np.median(standard.lines.load_um))
    changes = find_changes(put_together(joined, read.sides, read.lines))
    changes = without_tones(with_scratches(joined_strokes(changes), usual), tones)
    changes.sort(key=lambda change: (KINDS.index(change.kind), -change.length_mm))
    areas = (*changed_areas(changes, size), *tones)
    told = {change.kind for change in changes} | {tone.kind for tone in tones}
    seen = seen_fraction(standard.lines, other.sheet)
    return ComparedStates(
        "changed" if told - {"doubtful"} else "no change", tuple(table.pulls), tuple(changes), areas, *size, seen,
        remarks_of(read.sides, seen, standard.quality),
    )  # fmt: skip


@dataclass(slots=True, eq=False)
class _Readings:
    """Gathers what every pull says, the base first."""

    joined: JoinedLines
    size_mm: tuple[float, float]
    firsts: dict[int, LaidSheet]
    sides: list[Side] = field(default_factory=list)
    lines: list[PullReading] = field(default_factory=list)
    tones: list[Floats] = field(default_factory=list)

    def add(self, side: Side, sheet: LaidSheet) -> None:
        blur = max(first.blur_mm for first in self.firsts.values())
        self.sides.append(side)
        self.lines.append(read_pull(sheet, self.joined, self.firsts))
        self.tones.append(read_tone(sheet, self.joined, blur, self.size_mm))


def _base(before: Sequence[PullOfState], table: _Table) -> tuple[Standard, LaidSheet, list[PullOfState]]:
    """Return the first pull that can serve as base, and the pulls after it."""
    for k, asked in enumerate(before):
        try:
            standard = make_standard(replace(asked.edition, regions=_NO_REGION), asked.pull)
        except ProofkitError as error:
            _fail(asked, str(error), table)
            continue
        sheet, length = standard.laid, float(standard.lines.lines.length_mm.sum())
        if sheet is None or length < LEAST_LINES_MM:
            _fail(
                asked,
                f"{scan_name(asked)} shows {length:.0f} mm of line, at least {LEAST_LINES_MM:.0f} mm are needed to "
                "compare states line by line: it is blank, or its work is all tone; give another scan of the plate",
                table,
            )
            continue
        row = row_of(asked, sheet, whole(standard.lines), "base", by_lines=False)
        table.pulls.append(ComparedPull(asked, sheet, row))
        return standard, sheet, list(before[k + 1 :])
    raise ComparisonError(next(iter(table.failures.values())))


def _fail(asked: PullOfState, why: str, table: _Table) -> None:
    table.failures[_key(asked)] = why
    row: dict[str, object] = {**names_of(asked), "relation": "not comparable", "reason": why}
    table.pulls.append(ComparedPull(asked, None, row))


def _lay(asked: PullOfState, standard: Standard, table: _Table) -> _Laid | None:
    """Return a pull laid on the base; None, with a row that says why, when that cannot be or is another plate."""
    try:
        read = read_sheet(asked.edition, asked.pull)
    except ProofkitError as error:
        _fail(asked, str(error), table)
        return None
    try:
        sheet, alike, by_lines = lay_on_base(read, standard)
    except LayingError as error:
        row: dict[str, object] = {
            **names_of(asked), "relation": NOT_THE_SAME, "reason": str(error),
            "ppi_x": read.scan.file.ppi_x, "ppi_y": read.scan.file.ppi_y,
        }  # fmt: skip
        table.pulls.append(ComparedPull(asked, None, row))
        return None
    relation = "same plate" if alike.same_plate else NOT_THE_SAME
    row = row_of(asked, sheet, alike, relation, by_lines=by_lines)
    table.pulls.append(ComparedPull(asked, None, row))
    return _Laid(asked, sheet, row) if alike.same_plate else None


def _all_lines(standard: Standard, base: LaidSheet, other: LaidSheet) -> JoinedLines:
    """Return the lines of the base, of the first pull of the other state, and those that hatching hides on either."""
    size = (standard.plate_width_mm, standard.plate_height_mm)
    own, known = find_own_lines(other, size), standard.lines.lines
    found = (
        found_on(0, standard.lines),
        found_on(1, own, away_from=known),
        found_in_difference(1, 0, difference_lines(other, base, size, known), own, known),
        found_in_difference(0, 1, difference_lines(base, other, size, known), standard.lines, known),
        found_on(1, own),
    )
    return joined_lines(found, {0: base, 1: other})


def _key(asked: PullOfState) -> str:
    return f"{asked.side} {asked.name}"
