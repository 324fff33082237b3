"""Tables of what judgement and people made of the measures, and the words they use."""

from proofkit.columns.column import numbers, texts

FIGURES = numbers(
    (
        "film_ramp_x_density",
        "D",
        "change of the film against the standard from the left edge of the plate to the right",
    ),
    ("film_ramp_y_density", "D", "the same from the top to the bottom edge"),
    (
        "film_patch_density",
        "D",
        "what remains of the film's change without its ramp, robust spread over 3 mm",
    ),
    (
        "load_ramp_x_fraction",
        "-",
        "relative change of the line work from the left to the right edge of the plate",
    ),
    ("load_ramp_y_fraction", "-", "the same from the top to the bottom edge"),
    (
        "load_patch_fraction",
        "-",
        "what remains of the line work's change without its ramp, robust spread over 3 mm",
    ),
    ("load_grain_fraction", "-", "change of the line work within 3 mm, robust spread"),
    ("fine_against_broad", "-", "logarithm of the load of the finest lines over that of the broadest"),
    ("light_against_deep", "-", "logarithm of the change of load in light work over that in deep work"),
    ("gaps_against_film", "D", "ground between lines less the change of the sheet's plate tone"),
    ("patch_against_grain", "-", "logarithm of the line work's patches over 3 mm against its scatter within"),
    ("film_distance", "spreads", "how far the film lies from good pulls in all its measures together"),
    ("line_distance", "spreads", "the same of the line work"),
    ("hatching_distance", "spreads", "the same of the gaps of hatching"),
    ("drypoint_against_rest", "-", "logarithm of the change of drypoint's load over that of other line work"),
    ("own_places", "count", "places of 0.3 mm and more that no other pull has"),
)
"""Figures that judgement works out from the tables and the coarse tone pictures; findings and limits name them."""

FINDINGS = (
    texts(
        ("pull", "impression in order of printing"),
        ("region", "name of the region, or `sheet`"),
        ("measure", "column of measurements or sheets, or a figure of judgement"),
    )
    + numbers(
        ("value", "as the measure", "on this sheet"),
        ("standard_value", "as the measure", "on the standard"),
        ("spread", "as the measure", "standard deviation expected between good pulls"),
        (
            "deviation",
            "spreads",
            "signed distance from the centre of good pulls, or from where the rest of the sheet leads one to expect it",
        ),
        ("q_value", "-", "false discovery rate at which this finding would be called"),
    )
    + texts(
        (
            "direction",
            "`higher` or `lower` than good pulls, in the words of the trade where there are any; `for this sheet` "
            "where good pulls have such values too and only the rest of the sheet makes it stand out",
        )
    )
)
"""One row per measure of a region that leaves the standard."""

JUDGEMENT = texts(
    ("pull", "impression in order of printing"),
    ("verdict", "standard, matches, look again or not comparable"),
    ("causes", "ranked, joined by `; `"),
    ("regions", "regions concerned, worst first, joined by `; `"),
    ("reason", "one or two sentences: what was seen, and what speaks for and against the causes"),
)
"""One row per pull."""

PLACES = texts(
    ("pull", "impression in order of printing"),
    ("kind", "dark speck, dark streak, smear, light spot, slit, missing stroke or light patch"),
    (
        "lasting",
        "once, from here on, up to here, for a while, or on and off: how the pulls that have it lie in the pile",
    ),
    ("seen_on", "the other pulls that have it, joined by `; `"),
    (
        "keeps_to",
        "plate or press, where the plate was turned on the bed between pulls that have it; else empty",
    ),
    ("regions", "regions it lies in, joined by `; `; empty outside all of them"),
) + numbers(
    ("x_mm", "mm", "middle of the place, plate mm from the left of the plate mark"),
    ("y_mm", "mm", "the same from the top"),
    ("length_mm", "mm", "along its longest direction"),
    ("breadth_mm", "mm", "across it"),
    ("direction_deg", "deg", "of its length, counter-clockwise from x, 0 to 180"),
    (
        "ink_change",
        "-",
        "1 - R/Rp above the edition's at its strongest, averaged over 0.3 mm; negative = lighter",
    ),
    ("spreads", "spreads", "the same in spreads of good pulls at this place"),
    ("recurs_on", "pulls", "how many other pulls have a place of the same sign within 0.5 mm"),
)
"""One row per place of a sheet that leaves the picture of the edition."""

DECISIONS = texts(
    ("pull", "impression in order of printing"),
    (
        "decision",
        "keep, second, set aside or spoiled; taken back = the last one that still stood no longer counts",
    ),
    ("reason", "in the person's words"),
    ("by", "initials"),
    ("at", "date and time, ISO 8601"),
)
"""Append-only: what a person decided; of each pull the last entry that was not taken back counts."""

VERDICTS = ("standard", "matches", "look again", "not comparable")

CAUSES = (
    "under-inked",
    "overwiped",
    "underwiped",
    "wipe streaks",
    "uneven wiping",
    "retroussage",
    "clogged hatching",
    "low pressure",
    "uneven pressure",
    "dry paper",
    "doubled",
    "crease",
    "specks",
    "bevel ink",
    "plate wear",
    "burr loss",
    "set-off",
    "ink batch",
    "scan",
)
"""Cause words; other programs read them."""
