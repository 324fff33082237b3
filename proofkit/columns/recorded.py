"""Tables of the edition's record: the printer's log, the account of pulls, the numbering."""

from proofkit.columns.column import numbers, texts

PULL_LOG = (
    texts(
        ("pull", "impression in order of printing, never reused"),
        ("kind", "edition, artist's proof, trial proof, ..., in full"),
        ("designation", "what is pencilled on it"),
        ("status", "keep, second, set aside or spoiled; empty = not decided here"),
        ("destroyed_on", "date, of a second or spoiled sheet"),
        ("pulled_on", "date"),
        ("started", "time of day, 24 hours"),
        ("ended", "time of day, 24 hours"),
        ("printer", "initials or code only"),
        ("recipe", "name of the recipe of ink, wiping and pressure"),
        ("ink", "pigments, oil, ratio, additive, in words"),
        ("ink_batch", "which mix"),
    )
    + numbers(("minutes_since_mixing", "min", "age of the ink"))
    + texts(("paper", "kind, in words"), ("paper_lot", "lot and sheet"))
    + numbers(
        ("soak_min", "min", "time in water"),
        ("rest_min", "min", "time between blotters"),
        ("sheet_dry_g", "g", "mass of the sheet before damping"),
        ("sheet_damp_g", "g", "mass of the sheet as it went to press"),
        ("plate_temperature_c", "°C", "of the plate at inking"),
        ("room_c", "°C", "of the room"),
        ("room_rh_percent", "%", "relative humidity of the room"),
    )
    + texts(
        ("wiping", "stages and numbers of passes, in words"),
        ("cloth_changed", "yes or no, since the last pull"),
        ("plate_cleaned", "yes or no, since the last pull"),
        ("cleaner", "what it was cleaned with, as its data sheet names it"),
    )
    + texts(
        ("pressure", "mark left and right, passes"),
        ("bed", "turned when the plate lay end for end on the bed; empty = as usual"),
        ("blankets", "number, kind, order; changed or washed"),
        ("incident", "what went wrong"),
        ("word", "the printer's first word on it"),
        ("drying", "how it was dried"),
        ("flattened_on", "date"),
        ("verso", "note on the back"),
        ("place", "where it is kept"),
        ("note", "anything else; no names of buyers"),
    )
)
"""One row per pull, whether it was scanned or not: what the printer writes down."""

RECONCILIATION = (
    texts(
        (
            "account",
            "edition, proof, working proof, second, set aside, spoiled, not counted, not decided or lost",
        ),
        ("kind", "kind of impression; empty where it is not told"),
    )
    + numbers(("count", "-", "how many"))
    + texts(("pulls", "which ones, joined by `; `"))
)
"""Every pull in exactly one row; the counts add up to all that was pulled."""

NUMBERING = texts(
    ("pull", "impression in order of printing"),
    ("kind", "kind of impression"),
    ("designation", "what is pencilled on it, or proposed"),
    ("state", "written = on the sheet already; proposed = for the artist to fix"),
)
"""One row per kept impression of a numbered kind."""
