"""Tables of a study: effects, strips, baths and tilts."""

from proofkit.columns.column import numbers, texts

EFFECTS = (
    texts(
        ("response", "measure that is asked for"),
        ("region", "name of the region; `all` where regions are fitted together"),
        ("term", "factor, level, or both of a joint effect"),
        ("step", "what the effect is of: per unit, per doubling, against a level"),
    )
    + numbers(
        ("estimate", "as the response", "effect of one step; a share of 1 for relative responses"),
        (
            "u_estimate",
            "as the response",
            "standard uncertainty of the effect; empty = nothing to tell it from",
        ),
        ("low", "as the response", "lower end of its 95 % interval"),
        ("high", "as the response", "upper end of its 95 % interval"),
        ("freedom", "-", "degrees of freedom at the level at which the factor varies"),
        ("over_range", "as the response", "effect over all that was tried"),
        (
            "effect_sd",
            "sd",
            "size over all that was tried, in standard deviations of what factors do not explain; empty = cannot be "
            "told",
        ),
        ("p_value", "-", "chance of an effect at least this large where there is none"),
        ("q_value", "-", "false discovery rate over the whole study at which it would be called"),
        ("detectable", "as the response", "effect of one step that 80 of 100 such experiments would find"),
        ("rows", "-", "rows that were fitted"),
        ("units", "-", "pulls, plates or places that were set on their own"),
    )
    + texts(("model", "linear or mixed"), ("remark", "what limits this effect"))
)
"""One row per effect of a study."""

SUMMARY = texts(
    ("response", "measure that is asked for"),
    ("region", "name of the region; `all` where settings go with regions"),
    ("setting", "settings of the factors"),
) + numbers(
    ("mean", "as the response", "mean of the units"),
    ("spread", "as the response", "standard deviation between units; empty for one unit"),
    ("n", "-", "units: pulls, plates or places that were set on their own"),
    (
        "reading_sd",
        "as the response",
        "standard deviation between the readings of one unit, such as its pulls",
    ),
    (
        "u_mean",
        "as the response",
        "standard uncertainty of the mean: spread over the root of n, of batches or plates where there are several; "
        "of a single unit that of its readings",
    ),
    ("rows", "-", "readings behind them"),
)
"""One row per setting."""

RESIDUALS = (
    texts(
        ("response", "measure that is asked for"),
        ("region", "as in the effects"),
        ("check", "normal shape, equal spread, order, farthest row"),
    )
    + numbers(
        ("value", "-", "size of the departure; see meaning"),
        ("p_value", "-", "chance of a departure at least this large where there is none"),
    )
    + texts(("meaning", "what the value is, and what follows"))
)
"""Checks of what a model leaves over."""

COURSES = texts(
    ("response", "measure that is asked for"),
    ("region", "as in the effects"),
    ("bath", "name of the bath; empty for one"),
) + numbers(
    ("time", "as told", "time in the bath"),
    ("mean", "as the response", "mean of the places bitten so long"),
    ("n", "-", "places"),
    ("fitted", "as the response", "course that never falls"),
    ("low", "as the response", "lower end of its 95 % interval"),
    ("high", "as the response", "upper end of its 95 % interval"),
    ("exponent", "-", "power of time that the response follows; empty where it follows none"),
    ("u_exponent", "-", "its standard uncertainty"),
)
"""One row per bath and time of a step-bite strip."""

BATHS = (
    texts(
        ("response", "measure that is asked for"),
        ("region", "as in the effects"),
        ("bath", "bath that is compared"),
        ("reference", "bath that it is compared with"),
    )
    + numbers(
        ("speed", "-", "how many times as fast it gets to the same response"),
        ("low", "-", "lower end of the 95 % interval (Fieller)"),
        ("high", "-", "upper end"),
        ("freedom", "-", "degrees of freedom"),
    )
    + texts(("remark", "what limits the comparison"))
)
"""One row per response for which two baths are compared."""

TILTS = texts(("plate", "plate, empty for one"), ("region", "area of even texture")) + numbers(
    ("across_density", "D", "change along the steepest line from end to end that all pulls share"),
    ("u_across_density", "D", "its standard uncertainty, from the scatter of pulls"),
    ("direction_deg", "deg", "direction in which it gets darker, counter-clockwise from x"),
    ("pulls", "-", "pulls"),
    ("p_value", "-", "chance of a common slope at least this large where pulls share none (Hotelling)"),
    ("detectable", "D", "change that 80 of 100 such studies would find"),
)
"""One row per textured area in which a tipped bath would show."""
