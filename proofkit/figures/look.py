"""One look for all charts: paper, ink and one accent, told apart by shape and lightness as well as by hue."""

from functools import lru_cache

PAPER = "#fdfbf6"
INK = "#231f1c"
SOFT_INK = "#6b635b"
RULE = "#ddd6ca"
BAND = "#ebe4d6"
BAND_EDGE = "#a79c8a"
SHEET_DOT = "#3d5a73"
FINDING = "#a8431f"
"""Blue-grey against rust stay apart for the common kinds of colour blindness, on different shapes too:
no meaning hangs on hue alone."""

FALLS_TO_RISES = (
    (0.0, "#1d4e79"),
    (0.25, "#7fa6c6"),
    (0.5, "#f7f4ec"),
    (0.75, "#d99a6c"),
    (1.0, "#8a3b12"),
)
"""Blue to brown: a pair that the common kinds of colour blindness keep apart (common practice); cells that
matter also carry their signed number, so that a grey print can be read."""

SERIF = "Georgia, 'Iowan Old Style', 'Noto Serif', 'Liberation Serif', 'DejaVu Serif', serif"

PANEL_PX = 150
"""Height of one panel. [px]"""


@lru_cache(maxsize=1)
def template() -> dict[str, object]:
    """Return the template of all charts; nobody changes it."""
    axis = {
        "showline": True,
        "linecolor": SOFT_INK,
        "linewidth": 1,
        "ticks": "outside",
        "ticklen": 4,
        "tickcolor": SOFT_INK,
        "gridcolor": RULE,
        "gridwidth": 1,
        "zeroline": False,
        "title": {"font": {"size": 12}, "standoff": 6},
        "tickfont": {"size": 11},
        "automargin": True,
    }
    return {
        "layout": {
            "paper_bgcolor": PAPER,
            "plot_bgcolor": PAPER,
            "font": {"family": SERIF, "size": 13, "color": INK},
            "title": {"font": {"size": 15}, "x": 0, "xanchor": "left", "xref": "paper"},
            "xaxis": {**axis, "showgrid": False},
            "yaxis": axis,
            "hoverlabel": {
                "bgcolor": PAPER,
                "bordercolor": SOFT_INK,
                "font": {"family": SERIF, "color": INK},
            },
            "legend": {
                "orientation": "h",
                "x": 0,
                "xanchor": "left",
                "yref": "container",
                "y": 0,
                "yanchor": "bottom",
                "font": {"size": 12},
                "itemclick": False,
                "itemdoubleclick": False,
            },
            "margin": {"l": 64, "r": 16, "t": 44, "b": 84},
            "hovermode": "closest",
            "dragmode": False,
        }
    }
