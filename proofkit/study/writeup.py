"""The write-up of a study as one page: question, findings, methods, tables, figures, what could not be answered."""

import math
from collections.abc import Sequence
from pathlib import Path

import pandas as pd

from proofkit.cautions import cautions_for
from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Picture, Table
from proofkit.study.found import Found
from proofkit.study.gradient import Tilt
from proofkit.study.naming import response_word
from proofkit.study.package import chance, shown
from proofkit.study.parts import ALL
from proofkit.study.strips import Comparison
from proofkit.study.told import SIZES, effect_as_told, number_of

KIND_OF_PAGE = "Technique study"

READING = (
    "Effects are told with 95 % intervals and with their size over all that was tried, in the unit of the response "
    "and in standard deviations of what the factors do not explain. The least effect that would be found is the one "
    "that 80 of 100 such experiments would tell from none. Chances (p) and false discovery rates over the whole "
    "study (q) stand beside sizes and never alone. An interval that holds 0 shows no absence of an effect."
)

STRIP_READING = (
    "The course over time never falls, as metal does not grow back; it asks for nothing else. The exponent is that "
    "of the power of time which the response follows best: below 1 the bite slows down."
)

MOST_FINDINGS = 12


def write_up(
    study: Found, title: str, methods: Sequence[str], pictures: Sequence[tuple[Path, str]]
) -> Document:
    """Return the page.

    Parameters
    ----------
    study : Found
    title : str
    methods : sequence of str
        One sentence a point.
    pictures : sequence of (Path, str)
        Stem and caption of each figure.
    """
    blocks: list[Block] = []
    if study.settings.question:
        blocks.append(Paragraph(study.settings.question))
    blocks += [Heading("What was found"), *_findings(study)]
    blocks += [Heading("Methods"), Paragraph(" ".join(methods))]
    blocks += (
        [Heading("Figures"), *(Picture(stem, caption) for stem, caption in pictures)] if pictures else []
    )
    found = study.analysis
    blocks += [
        Heading("Tables"),
        Paragraph(READING),
        _effects(found.effects, study.settings.relative),
        _summary(found.summary),
    ]
    blocks += [*_strips(study), *_tilts(study), _residuals(found.residuals)]
    limits = Items(study.remarks) if study.remarks else Paragraph("Nothing to add.")
    blocks += [Heading("What could not be answered, and limits"), limits]
    blocks += [
        Heading("Data"),
        Paragraph(
            "All tables lie in the folder data as CSV and Parquet, with every column's type, unit and meaning in "
            "datapackage.json (Data Package standard of Frictionless Data)."
        ),
    ]
    cautions = cautions_for(_words(study))
    if cautions:
        blocks += [Heading("Cautions for the materials named"), Items(cautions)]
    return Document(title, KIND_OF_PAGE, tuple(blocks))


def _findings(study: Found) -> list[Block]:
    relative = study.settings.relative
    texts = [
        finding(effect_as_told(row, relative)) for row in _by_size(study.analysis.effects)[:MOST_FINDINGS]
    ]
    texts += [_speed(one) for one in study.comparisons]
    texts += [_tilt(plate, tilt) for plate, tilt in study.tilts]
    if not texts:
        return [Paragraph("Nothing could be fitted; see the limits below.")]
    left = len(study.analysis.effects) - MOST_FINDINGS
    more = [Paragraph(f"{left} more effects stand in the tables.")] if left > 0 else []
    return [Items(tuple(texts)), *more]


def _by_size(effects: pd.DataFrame) -> list[dict[str, object]]:
    ordered = effects.assign(sure=effects["p_value"].fillna(1.0) < 0.05)
    ordered = ordered.sort_values(["sure", "effect_sd"], ascending=False, kind="stable")
    return [{str(key): value for key, value in row.items()} for row in ordered.to_dict("records")]


def _place(row: dict[str, object]) -> str:
    return "" if row["region"] == ALL else f" in {row['region']}"


def finding(row: dict[str, object]) -> str:
    """Return an effect as a sentence: size, interval, what it comes to, chance; or what would have been found.

    Parameters
    ----------
    row : dict
        Row of the table `effects`, as `effect_as_told` gives it.
    """
    response, unit = str(row["response"]), f" {row['unit']}".rstrip()
    in_sd = number_of(row, "effect_sd")
    size = f"{shown(in_sd, 2)} s.d." if math.isfinite(in_sd) else ""
    estimate = f"{shown(number_of(row, 'estimate'))}{unit} {row['step']}"
    lead = f"{response_word(response)}{_place(row)}, {row['term']}: {estimate}"
    p = number_of(row, "p_value")
    if row["step"] == "largest difference":
        differ = f", p {chance(p)} that levels do not differ" if math.isfinite(p) else ""
        return f"{lead}{f' ({size})' if size else ''}{differ}."
    is_step = number_of(row, "over_range") == number_of(row, "estimate")
    reach = "" if is_step else f"over all that was tried {shown(number_of(row, 'over_range'))}{unit}"
    whole = ", ".join(part for part in (reach, size) if part)
    low, high = number_of(row, "low"), number_of(row, "high")
    if not math.isfinite(low):
        return "; ".join(filter(None, (lead, whole, f"no interval: {row['remark'] or 'too few units'}.")))
    least = (
        f"an effect of {shown(number_of(row, 'detectable'))}{unit} would be found in 80 of 100 such studies"
    )
    tail = f"; {least}" if low <= 0 <= high else ""
    chances = f"p {chance(p)}, q {chance(number_of(row, 'q_value'))}"
    interval = f"{lead} (95 %: {shown(low)} to {shown(high)})"
    return "; ".join(filter(None, (interval, whole, f"{chances}{tail}.")))


def _speed(one: Comparison) -> str:
    place = "" if one.region == ALL else f" in {one.region}"
    speed = one.speed
    remark = f"; {one.remark}" if one.remark else ""
    word = response_word(one.response).lower()
    interval = "" if math.isnan(speed.low) else f" (95 %: {shown(speed.low)} to {shown(speed.high)})"
    return (
        f"{speed.faster} gets to the same {word}{place} {shown(speed.speed)} times as fast as {speed.slower}"
        f"{interval}{remark}."
    )


def _tilt(plate: str, tilt: Tilt) -> str:
    where = f"{plate}, {tilt.region}" if plate else tilt.region
    sure = tilt.p < 0.05
    said = "has a slope on all pulls alike" if sure else "has no slope that all pulls clearly share"
    tail = "" if sure else f"; {shown(tilt.detectable_density)} D would be found in 80 of 100 such studies"
    size = (
        f"{shown(tilt.across_density)} D from end to end (standard uncertainty {shown(tilt.u_density, 2)} D)"
    )
    return (
        f"{where} {said}: {size}, darker towards {tilt.direction_deg:.0f} deg counter-clockwise from the right; "
        f"p {chance(tilt.p)}{tail}."
    )


def _effects(effects: pd.DataFrame, relative: Sequence[str]) -> Table:
    header = (
        "response", "unit", "region", "term", "step", "effect", "from", "to", "freedom", "over all", "s.d.", "p", "q",
        "least found", "units",
    )  # fmt: skip
    rows = []
    for row in effects.to_dict("records"):
        told = effect_as_told({str(key): value for key, value in row.items()}, relative)
        estimate, low, high, over_all, least = (shown(number_of(told, name)) for name in SIZES)
        rows.append(
            (
                str(row["response"]), str(told["unit"]) or "-",
                *(str(row[name]) for name in ("region", "term", "step")), estimate, low, high,
                f"{row['freedom']:.0f}", over_all, shown(float(row["effect_sd"]), 2), chance(float(row["p_value"])),
                chance(float(row["q_value"])), least, f"{row['units']:.0f}",
            )
        )  # fmt: skip
    return Table("Effects.", header, tuple(rows), frozenset(range(5, len(header))))


def _summary(summary: pd.DataFrame) -> Table:
    header = (
        "response",
        "region",
        "setting",
        "mean",
        "spread",
        "n",
        "between readings",
        "uncertainty",
        "readings",
    )
    rows = [
        (
            str(row["response"]), str(row["region"]), str(row["setting"]), shown(float(row["mean"]), 4),
            shown(float(row["spread"]), 2), f"{row['n']:.0f}", shown(float(row["reading_sd"]), 2),
            shown(float(row["u_mean"]), 2), f"{row['rows']:.0f}",
        )
        for _, row in summary.iterrows()
    ]  # fmt: skip
    caption = (
        "Mean of each setting, standard deviation between its units, their number, uncertainty of the mean."
    )
    return Table(caption, header, tuple(rows), frozenset(range(3, len(header))))


def _strips(study: Found) -> list[Block]:
    if not study.strips:
        return []
    header = ("response", "region", "bath", "time", "mean", "course", "from", "to", "exponent")
    rows = []
    for strip in study.strips:
        law = strip.power.exponent if strip.power else None
        exponent = f"{shown(law.estimate, 2)} ± {shown(law.error, 2)}" if law else "–"
        course = strip.course
        for k, time in enumerate(course.times):
            numbers = (course.means[k], course.fitted[k], course.low[k], course.high[k])
            rows.append(
                (strip.response, strip.region, strip.bath or "–", f"{time:g}", *(shown(float(v)) for v in numbers),
                 exponent if k == 0 else "")
            )  # fmt: skip
    return [
        Paragraph(STRIP_READING),
        Table("Step-bite strips.", header, tuple(rows), frozenset(range(3, len(header)))),
    ]


def _tilts(study: Found) -> list[Block]:
    if not study.tilts:
        return []
    header = (
        "plate",
        "region",
        "end to end, D",
        "uncertainty",
        "direction, deg",
        "pulls",
        "p",
        "least found, D",
    )
    rows = tuple(
        (
            plate or "–", tilt.region, shown(tilt.across_density), shown(tilt.u_density, 2),
            f"{tilt.direction_deg:.0f}", str(len(tilt.pulls)), chance(tilt.p), shown(tilt.detectable_density, 2),
        )
        for plate, tilt in study.tilts
    )  # fmt: skip
    caption = (
        "Slopes of even textures that all pulls share: a tipped bath leaves one, wiping another on each pull."
    )
    return [Table(caption, header, rows, frozenset(range(2, len(header))))]


def _residuals(residuals: pd.DataFrame) -> Table:
    header = ("response", "region", "check", "value", "p", "meaning")
    rows = [
        (
            str(row["response"]), str(row["region"]), str(row["check"]), shown(float(row["value"]), 2),
            chance(float(row["p_value"])), str(row["meaning"]),
        )
        for _, row in residuals.iterrows()
    ]  # fmt: skip
    return Table("Checks of what the models leave over.", header, tuple(rows), frozenset({3, 4}))


def _words(study: Found) -> tuple[str, ...]:
    """Return the texts of the records that may name what calls for a caution."""
    notes = [
        text
        for measured in study.observed.measured.values()
        for pull in measured.edition.pulls
        for key, text in pull.notes.items()
        if key in ("ink", "wiping", "pressure", "note")
    ]
    factors = study.experiment.factors
    named = [text for factor in factors for text in (factor.name, factor.label, *factor.levels)]
    return (*study.settings.methods.values(), study.settings.question, *named, *notes)
