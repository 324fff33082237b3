"""What the report shows of the order of printing, and how small a change this edition would show."""

import math

from proofkit.edition import MeasuredEdition
from proofkit.figures.running import running_means
from proofkit.figures.words import SHEET, bare_number, measure_word, unit_of
from proofkit.judgement.types import Judged
from proofkit.report.charts import Chart, Table, inside_script
from proofkit.report.sentences import in_words
from proofkit.wording import percent


def running_chart(measured: MeasuredEdition, judged: Judged) -> Chart | None:
    """Return the chart of running means with its table; None for a run too short to have one."""
    if judged.running.empty:
        return None
    figure = running_means(measured, judged)
    figure.update_layout(title_text="", margin_t=26)
    measures = [str(name) for name in dict.fromkeys(judged.running["measure"])]
    pulls = [str(pull) for pull in dict.fromkeys(judged.running["pull"])]
    cells = {
        (str(row["pull"]), str(row["measure"])): bare_number(str(row["measure"]), float(row["smoothed"]))
        + (" (outside)" if row["is_out"] else "")
        for row in judged.running.to_dict("records")
    }
    heads = [measure_word(name) + (f", {unit_of(name)}" if unit_of(name) else "") for name in measures]
    return Chart(
        name="running",
        title="Running means",
        note="",
        figure=inside_script(figure),
        table=Table(
            head=("Pull", *heads),
            rows=tuple((pull, *(cells.get((pull, name), "–") for name in measures)) for pull in pulls),
        ),
        findings=int(judged.running["is_out"].sum()),
    )


def course_sentences(judged: Judged) -> list[str]:
    """Return one sentence for each measure that drifts or steps over the run."""
    told = [in_words(str(words)) for words in judged.courses["words"]]
    return [f"{text[0].upper()}{text[1:]}." for text in told]


def power_rows(judged: Judged) -> Table | None:
    """Return the smallest changes that would be flagged nine times in ten; None when they are not known."""
    if judged.power.empty:
        return None
    rows = []
    for row in judged.power.to_dict("records"):
        measure, smallest = str(row["measure"]), float(row["smallest"])
        where = "the whole sheet" if row["place"] == SHEET else f"one region, such as {row['place']}"
        if math.isnan(smallest):
            amount = "larger than was tried"
        elif row["unit"] == "%":
            amount = percent(smallest)
        else:
            amount = f"{bare_number(measure, smallest)} {unit_of(measure)}".strip()
        rows.append((measure_word(measure), where, amount))
    return Table(head=("Measure", "Changed on", "Smallest change flagged 9 times in 10"), rows=tuple(rows))
