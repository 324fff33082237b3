"""Tables of the choice of a standard among trial proofs."""

from proofkit.columns.column import numbers, texts

CHOICE_CANDIDATES = texts(
    ("pull", "trial proof"),
    ("recipe", "how it was made, as pulls.csv says"),
    ("confirming", "other pulls of the same recipe, joined by `; `"),
    ("first_in", "wishes that it grants further than others, `region: wish` joined by `; `"),
    ("surpassed_by", "candidates that grant every wish at least as far and one of them further"),
    ("farthest_in", "region and measure in which it is farthest from the centre of its recipe"),
    ("weakest_in", "region and measure in which the fewest further pulls are expected inside tolerance"),
) + numbers(
    (
        "overall_granted",
        "-",
        "weighted geometric mean of what is granted; 0 where a wish is not granted at all",
    ),
    ("leads_fraction", "-", "share of all ways to weigh the wishes in which that mean is the largest"),
    (
        "distance_spreads",
        "spreads",
        "distance from the centre of its recipe's confirming pulls, rms over the wishes",
    ),
    ("inside_fraction", "-", "share of further pulls expected inside all tolerances about it, at the least"),
    ("weakest_fraction", "-", "the same in the weakest measure alone: at the most"),
)
"""One row per trial proof that a standard is chosen from."""

CHOICE_WISHES = texts(
    ("pull", "trial proof"),
    ("region", "name of the region"),
    ("wish", "what the artist wants of it"),
    ("measure", "column of measurements that tells it"),
) + numbers(
    ("weight", "-", "how much the wish counts against the others"),
    ("value", "as the measure", "on this proof"),
    ("u_value", "as the measure", "standard uncertainty"),
    ("granted", "-", "how far the wish is granted: 0 not at all, 1 wholly"),
    ("granted_low", "-", "the same at the less favourable end of two standard uncertainties"),
    ("granted_high", "-", "the same at the more favourable end"),
)
"""One row per trial proof and wish."""

CHOICE_DIFFERENCES = texts(
    ("pull", "one trial proof"),
    ("other", "another"),
    ("region", "name of the region"),
    ("measure", "column of measurements"),
    ("direction", "how the other is against the one, in the words of the trade where there are any"),
) + numbers(
    ("value", "as the measure", "on the one"),
    ("other_value", "as the measure", "on the other"),
    (
        "deviation",
        "spreads",
        "other less one, in standard deviations of the difference of two pulls of one recipe",
    ),
    ("q_value", "-", "false discovery rate at which this difference would be called"),
)
"""One row per pair of trial proofs, region and measure in which they differ."""
