"""Where the panels of a chart lie: rows and columns in pixels, with names of axes as the chart library wants them.

Charts are put together as plain dictionaries and handed to the library once: adding traces and shapes to a figure
one by one took twenty times as long (measured on 12 panels).
"""

from collections.abc import Sequence
from dataclasses import dataclass

from proofkit.figures import look

TOP_PX, BOTTOM_PX, TITLE_PX = 26, 84, 18
"""Room above the panels, below them for axis and legend, and for a title. [px]"""

COLUMN_GAP = 0.075
"""Room between columns, as a share of the width. [-]"""


@dataclass(frozen=True, slots=True)
class Panel:
    """Names of the axes of one panel."""

    number: int
    """From 1."""
    is_lowest: bool
    """True for the panel at the bottom of its column, which carries the labels of the x axis."""
    is_leftmost: bool

    @property
    def suffix(self) -> str:
        """What follows `x`, `y`, `xaxis` and `yaxis`."""
        return "" if self.number == 1 else str(self.number)

    @property
    def axes(self) -> dict[str, str]:
        """Axes of a trace."""
        return {"xaxis": f"x{self.suffix}", "yaxis": f"y{self.suffix}"}

    @property
    def refs(self) -> dict[str, str]:
        """Axes of a shape."""
        return {"xref": f"x{self.suffix}", "yref": f"y{self.suffix}"}

    @property
    def across(self) -> dict[str, str]:
        """Axes of a shape that runs across the whole panel."""
        return {"xref": f"x{self.suffix} domain", "yref": f"y{self.suffix}"}


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart while it is put together."""

    panels: tuple[Panel, ...]
    layout: dict[str, object]
    traces: list[dict[str, object]]
    shapes: list[dict[str, object]]
    notes: list[dict[str, object]]

    def axis(self, letter: str, panel: Panel) -> dict[str, object]:
        """Return the settings of an axis of a panel, to be filled."""
        settings = self.layout[f"{letter}axis{panel.suffix}"]
        if not isinstance(settings, dict):
            raise TypeError(f"layout of axis {letter}{panel.suffix} is no dictionary")
        return settings

    def name_panel(self, panel: Panel, text: str) -> None:
        """Write already escaped text above the top left corner of a panel."""
        self.notes.append(
            {
                "text": text,
                "xref": f"x{panel.suffix} domain",
                "yref": f"y{panel.suffix} domain",
                "x": 0,
                "y": 1,
                "xanchor": "left",
                "yanchor": "bottom",
                "showarrow": False,
                "font": {"size": 12.5},
            }
        )

    def finished(self) -> dict[str, object]:
        """Return the whole chart as the library reads it."""
        return {
            "data": self.traces,
            "layout": {**self.layout, "shapes": self.shapes, "annotations": self.notes},
        }


def lay_out(
    count: int,
    heights_px: Sequence[float],
    *,
    columns: int,
    gap_px: float,
    title: str,
    bottom_px: float = BOTTOM_PX,
) -> Chart:
    """Return an empty chart with `count` panels, filled row by row.

    Parameters
    ----------
    count : int
        Number of panels, at most rows times columns.
    heights_px : sequence of float
        Height of each row of panels. [px]
    columns : int
    gap_px : float
        Room between rows, for the names of panels. [px]
    title : str
        Already escaped text.
    bottom_px : float
        Room below the panels. [px]
    """
    inside = sum(heights_px) + gap_px * (len(heights_px) - 1)
    layout: dict[str, object] = {
        "template": look.template(),
        "title": {"text": title},
        "height": inside + TOP_PX + TITLE_PX + bottom_px,
        "margin": {"t": TOP_PX + TITLE_PX, "b": bottom_px},
    }
    width = (1 - COLUMN_GAP * (columns - 1)) / columns
    panels = []
    top = inside
    for row, height in enumerate(heights_px):
        for column in range(columns):
            number = row * columns + column + 1
            if number > count:
                break
            panel = Panel(number, is_lowest=number + columns > count, is_leftmost=column == 0)
            left = column * (width + COLUMN_GAP)
            layout[f"xaxis{panel.suffix}"] = {
                "domain": [left, left + width],
                "anchor": f"y{panel.suffix}",
                "showticklabels": panel.is_lowest,
                **({} if number == 1 else {"matches": "x"}),
            }
            domain = [max(0.0, (top - height) / inside), top / inside]
            layout[f"yaxis{panel.suffix}"] = {"domain": domain, "anchor": f"x{panel.suffix}"}
            panels.append(panel)
        top -= height + gap_px
    return Chart(tuple(panels), layout, [], [], [])
