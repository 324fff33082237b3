"""Pairs of causes that a scan alone cannot always tell apart: naming the other one first is honest.

The signs that the causes share are common practice of the trade.
"""

from __future__ import annotations

NEIGHBOURS: dict[tuple[str, str], str] = {
    ("low pressure", "dry paper"): "both take ink and film; only grain-scale breaks or a weak mark decide",
    (
        "low pressure",
        "under-inked",
    ): "on a clean-wiped plate the film cannot fall, so only the lines get weaker",
    ("low pressure", "overwiped"): "on a clean-wiped plate both leave weak lines and no film",
    ("low pressure", "uneven pressure"): "a little too low pressure is seldom even",
    ("dry paper", "under-inked"): "both break lines; fine breaks are grain, coarse ones are starved grooves",
    ("dry paper", "overwiped"): "on a clean-wiped plate both leave pale lines on bare ground",
    ("overwiped", "under-inked"): "on a clean-wiped plate the film says nothing and both leave pale lines",
    ("overwiped", "plate wear"): "both take shallow lines first; one sheet shows no course over the pulls",
    ("uneven wiping", "wipe streaks"): "both are film in the wrong places, apart only in scale",
    ("uneven wiping", "underwiped"): "film left on one side is both",
    ("uneven wiping", "overwiped"): "film taken on one side is both",
    ("uneven wiping", "uneven pressure"): "a slope of film alone does not tell hand from press",
    ("underwiped", "wipe streaks"): "a loaded cloth leaves a veil and its streaks together",
    ("underwiped", "retroussage"): "a full wipe leaves film between lines as well as beside them",
    ("underwiped", "set-off"): "a broad ghost of other work is also film on open ground",
    ("set-off", "uneven wiping"): "a ghost of dense fields looks like film in patches",
    ("set-off", "wipe streaks"): "a ghost of hatching has a direction",
    ("retroussage", "clogged hatching"): "in dense work both shut the gaps",
    ("clogged hatching", "underwiped"): "film that stays only in dense work",
    ("plate wear", "burr loss"): "both are a slow loss over the pulls",
    ("plate wear", "under-inked"): "at the end of a course a single sheet is just weaker",
    ("plate wear", "low pressure"): "at the end of a course a single sheet is just weaker",
    ("under-inked", "uneven pressure"): "starved patches at one end look like a press ramp",
    ("ink batch", "under-inked"): "a leaner mixing prints paler lines; a grey scan has no colour",
    ("ink batch", "low pressure"): "a leaner mixing prints paler lines; a grey scan has no colour",
    ("crease", "doubled"): "lines jump at a crease, and print twice beside it",
}
"""(one cause, other cause) -> why one sheet may not decide; holds both ways."""


def is_right(named: str, cause: str, second: str = "") -> bool:
    """Return whether the cause named first is one of the true ones or an honest neighbour of the main one."""
    if named in {cause, second} - {""}:
        return True
    return (named, cause) in NEIGHBOURS or (cause, named) in NEIGHBOURS
