"""Read study.toml: the question, what is looked at, how factors are meant, and what was done by hand."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal

from proofkit.errors import FolderError
from proofkit.folder.problems import quoted, read_text
from proofkit.folder.toml_table import TomlTable, top_of
from proofkit.study.methods import METHOD_POINTS

SETTINGS_FILE = "study.toml"

Scale = Literal["linear", "log"]


@dataclass(frozen=True, slots=True)
class FactorSetting:
    """How one column of experiment.csv is meant."""

    label: str = ""
    unit: str = ""
    scale: Scale = "linear"
    """`log`: effects are told per doubling."""
    reference: str = ""
    """Level that the others are compared with; the first in the table when left out."""


@dataclass(frozen=True, slots=True)
class StudySettings:
    """What study.toml says; names are not compared with the other files yet."""

    question: str = ""
    responses: tuple[str, ...] = ()
    """Columns of measurements or of experiment.csv; the measures that are read first when empty."""
    relative: tuple[str, ...] = ()
    """Responses whose effects are proportions: their logarithm is fitted."""
    regions: tuple[str, ...] = ()
    """All when empty."""
    factors: dict[str, FactorSetting] = field(default_factory=dict)
    interactions: tuple[tuple[str, str], ...] = ()
    bite_time: str = ""
    """Column of the time in the bath, for a step-bite strip."""
    bath: str = ""
    """Column that tells baths apart, to be compared."""
    tipped: tuple[str, ...] = ()
    """Regions of even texture in which a tipped bath would show."""
    methods: dict[str, str] = field(default_factory=dict)
    """Point of the methods -> what was done, in words."""
    remarks: tuple[str, ...] = ()


KEYS = (
    "question",
    "responses",
    "relative",
    "regions",
    "interactions",
    "factors",
    "step_bite",
    "tipped_bath",
    "methods",
)


def read_study_settings(folder: Path) -> StudySettings:
    """Return the settings of a study; all are optional, and so is the file.

    Raises
    ------
    FolderError
        If anything in it is not as it should be: one line each.
    """
    path = folder / SETTINGS_FILE
    if not path.is_file():
        return StudySettings()
    problems: list[str] = []
    text = read_text(path, problems)
    top = top_of(SETTINGS_FILE, text, problems)
    if top is None:
        raise FolderError("\n".join(problems))
    factors, strip = top.table("factors"), top.table("step_bite")
    tipped, methods = top.table("tipped_bath"), top.table("methods")
    remarks = top.unknown(KEYS)
    settings = StudySettings(
        question=top.word("question") or "",
        responses=top.names("responses", "columns"),
        relative=top.names("relative", "columns"),
        regions=top.names("regions", "regions"),
        factors=_factors(factors),
        interactions=_interactions(top),
        bite_time=(strip.word("time") or "") if strip else "",
        bath=(strip.word("bath") or "") if strip else "",
        tipped=tipped.names("regions", "regions") if tipped else (),
        methods=_methods(methods, remarks),
    )
    if problems:
        raise FolderError("\n".join(problems))
    return replace(settings, remarks=tuple(remarks))


def _factors(table: TomlTable | None) -> dict[str, FactorSetting]:
    found: dict[str, FactorSetting] = {}
    for name in table.values if table else ():
        one = table.table(name) if table else None
        if one is None:
            continue
        scale = one.word("scale", ("linear", "log")) or "linear"
        reference = one.take("reference")
        found[name] = FactorSetting(
            label=one.word("label") or "",
            unit=one.word("unit") or "",
            scale="log" if scale == "log" else "linear",
            reference="" if reference is None else str(reference),
        )
    return found


def _interactions(top: TomlTable) -> tuple[tuple[str, str], ...]:
    pairs = []
    for text in top.names("interactions", "pairs of factors such as 'bite_min:bath'"):
        names = [name.strip() for name in text.split(":")]
        if len(names) == 2 and all(names) and names[0] != names[1]:
            pairs.append((names[0], names[1]))
        else:
            top.report(
                "interactions", f"has {quoted(text)}, allowed are two factors with a colon between them."
            )
    return tuple(pairs)


def _methods(table: TomlTable | None, remarks: list[str]) -> dict[str, str]:
    if table is None:
        return {}
    points = tuple(point.key for point in METHOD_POINTS)
    found = {key: word for key in points if (word := table.word(key))}
    remarks += table.unknown(points)
    return found
