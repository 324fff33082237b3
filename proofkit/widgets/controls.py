"""Controls that all panels use alike: buttons with words, choices that change only when they must, safe HTML."""

import html
from collections.abc import Callable, Sequence

import ipywidgets as widgets


def button(text: str, act: Callable[[], object], *, name: str = "") -> widgets.Button:
    """Return a button that does something; `name` is read aloud where the text alone says too little."""
    made = widgets.Button(description=text, tooltip=name or text, layout=widgets.Layout(width="auto"))
    made.on_click(lambda _button: act())
    return made


def dropdown(description: str, *, width: str = "100%") -> widgets.Dropdown:
    """Return an empty list of choices."""
    return widgets.Dropdown(
        description=description, layout=widgets.Layout(width=width), style={"description_width": "84px"}
    )


def text(description: str, *, placeholder: str = "", width: str = "100%") -> widgets.Text:
    """Return a line to write on, which tells its text when it is left or Enter is pressed."""
    return widgets.Text(
        description=description,
        placeholder=placeholder,
        continuous_update=False,
        layout=widgets.Layout(width=width),
        style={"description_width": "84px"},
    )


def offer(control: widgets.Dropdown, options: Sequence[tuple[str, str]], value: str) -> None:
    """Set choices and choice, touching only what changed: a set control is redrawn in the browser."""
    if list(control.options) != list(options):
        control.options = list(options)
    if control.value != value and value in {choice for _, choice in options}:
        control.value = value


def words(content: str, kind: str = "") -> str:
    """Return text of any origin as a paragraph, line by line.

    >>> words("sky <b>", "notice")
    '<p class="notice">sky &lt;b&gt;</p>'
    """
    lines = "<br>".join(html.escape(line) for line in content.splitlines())
    named = f' class="{kind}"' if kind else ""
    return f"<p{named}>{lines}</p>" if content else ""
