"""The page of a re-lay study."""

import math

import pandas as pd

from proofkit.document.blocks import Block, Document, Heading, Items, Paragraph, Table
from proofkit.figures.words import PRIMARY, TELLING, bare_number, measure_word, unit_of
from proofkit.study.agreement import Between

HEADER = (
    "measure", "region", "mean", "between lays", "days", "operators", "one scan", "freedom", "upper limit",
    "least detectable change",
)  # fmt: skip

SPREADS = ("lay_sd", "day_sd", "operator_sd", "relay_sd", "relay_sd_upper", "minimal_detectable_change")

METHOD = (
    "Standard deviations are components of variance of nested lays: between lays of one day and operator, between "
    "days, between operators; – means that it cannot be told. The upper limit of the standard deviation of one scan "
    "holds with 95 % confidence. The least detectable change is 1.96 times the root of two times that standard "
    "deviation: two scans of the same sheet differ by less in 19 of 20 cases."
)


def relay_page(
    title: str,
    table: pd.DataFrame,
    lays: pd.DataFrame,
    said: tuple[str, ...],
    between: tuple[Between, ...] = (),
) -> Document:
    """Return the page: what was done, what limits it, and the scatter of each measure.

    Parameters
    ----------
    title : str
        Of the edition.
    table : DataFrame
        Table `repeatability`.
    lays : DataFrame
        One row per scan that counts, with its sheet, day and operator.
    said : tuple of str
        Sentences on what limits the study.
    between : tuple of Between
        How operators or days agree.
    """
    blocks: list[Block] = [Paragraph(_done(lays))]
    if said:
        blocks.append(Items(said))
    blocks += [
        Paragraph(METHOD),
        Heading("Measures that are read first"),
        _table(table, PRIMARY),
        *_agreeing(between),
        Heading("The others"),
        _table(
            table, tuple(name for name in dict.fromkeys([*TELLING, *table["measure"]]) if name not in PRIMARY)
        ),
    ]
    return Document(title, "Repeatability: the same sheets laid down again", tuple(blocks))


def _done(lays: pd.DataFrame) -> str:
    counts = lays.groupby("sheet").size()
    days = lays.loc[lays["day"] != "", "day"].nunique()
    operators = lays.loc[lays["operator"] != "", "operator"].nunique()
    spread = f"{counts.min()}" if counts.min() == counts.max() else f"{counts.min()} to {counts.max()}"
    told = [
        f"{lead} {n} {word}{'s' if n > 1 else ''}"
        for n, lead, word in ((days, "on", "day"), (operators, "by", "operator"))
        if n
    ]
    over = f", {' and '.join(told)}" if told else ""
    sheets = f"{len(counts)} sheet{'s' if len(counts) > 1 else ''}"
    return f"{sheets} (pull {', '.join(map(str, counts.index))}), {spread} scans each{over}."


def _agreeing(between: tuple[Between, ...]) -> tuple[Block, ...]:
    if not between:
        return ()
    rows = []
    for one in between:
        found, unit = one.agreement, unit_of(one.measure)
        numbers = (found.bias, found.bias_low, found.bias_high, found.lower, found.upper)
        name = f"{measure_word(one.measure)}, {unit}" if unit else measure_word(one.measure)
        sides = f"{one.first} – {one.second}"
        rows.append((name, f"{one.level} {sides}", str(found.pairs), *map(small, numbers)))
    header = ("measure", "sides", "pairs", "bias", "from", "to", "lower limit", "upper limit")
    caption = (
        "Bias (first minus second, with its 95 % interval) and the limits between which 95 of 100 differences lie; a "
        "pair is one region of one sheet, the mean of its scans."
    )
    return (Heading("Agreement"), Table(caption, header, tuple(rows), frozenset(range(2, len(header)))))


def _table(table: pd.DataFrame, measures: tuple[str, ...]) -> Table:
    rows = []
    for measure in measures:
        for _, row in table[table["measure"] == measure].iterrows():
            numbers = {name: float(row[name]) for name in table.columns if name not in ("region", "measure")}
            unit = unit_of(measure)
            rows.append(
                (
                    f"{measure_word(measure)}{f', {unit}' if unit else ''}",
                    str(row["region"]),
                    *_cells(measure, numbers),
                )
            )
    return Table("Scatter in the unit of the measure.", HEADER, tuple(rows), frozenset(range(2, len(HEADER))))


def _cells(measure: str, row: dict[str, float]) -> tuple[str, ...]:
    spreads = [small(row[name]) for name in SPREADS]
    return (bare_number(measure, row["mean"]), *spreads[:4], f"{row['freedom']:.0f}", *spreads[4:])


def small(value: float) -> str:
    """Return a spread with two figures that count, `–` where there is none.

    >>> small(0.00123), small(12.34), small(0.0)
    ('0.0012', '12', '0')
    """
    if not math.isfinite(value):
        return "–"
    if value == 0:
        return "0"
    decimals = max(0, 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{decimals}f}"
