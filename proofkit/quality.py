"""Registry of quality flags: bit, word in the tables, meaning.

A measure that cannot be had is empty (NaN) and its row carries a flag; the word list in the tables and the
page in DEVELOPERS.md are both made from this registry.
"""

import enum


class Quality(enum.IntFlag):
    """What limits a row of the tables; 0 is nothing."""

    NONE = 0
    NO_LINES = enum.auto()
    TOO_FINE = enum.auto()
    TOO_FEW_CROSSINGS = enum.auto()
    TOO_LITTLE_GROUND = enum.auto()
    GROUND_FROM_GAPS = enum.auto()
    OUTSIDE_SHEET = enum.auto()
    SATURATED = enum.auto()
    MISFIT = enum.auto()
    PITCH_DOUBT = enum.auto()
    NO_PLATE_MARK = enum.auto()
    PART_OF_PLATE_MARK = enum.auto()
    CORNERS_BY_HAND = enum.auto()
    UPSIDE_DOWN = enum.auto()
    MIRRORED = enum.auto()
    OTHER_PLATE = enum.auto()
    BLANK = enum.auto()
    CURVE_ASSUMED = enum.auto()
    PPI_ASSUMED = enum.auto()
    LITTLE_MARGIN = enum.auto()
    LOW_RESOLUTION = enum.auto()
    LOSSY = enum.auto()
    NO_WEDGE = enum.auto()
    NO_FLAT_FIELD = enum.auto()
    NO_EDGE = enum.auto()


WORDS: dict[Quality, tuple[str, str]] = {
    Quality.NO_LINES: ("no lines", "the standard has no lines in this region"),
    Quality.TOO_FINE: ("too fine", "lines under 2 px or 3 blur sigmas: width and core density left empty"),
    Quality.TOO_FEW_CROSSINGS: (
        "too few crossings",
        "fewer than 30 line crossings, line measures are uncertain",
    ),
    Quality.TOO_LITTLE_GROUND: ("too little ground", "not enough unworked ground for plate tone"),
    Quality.GROUND_FROM_GAPS: (
        "ground from gaps",
        "plate tone read in the gaps of hatching, corrected for line blur",
    ),
    Quality.OUTSIDE_SHEET: ("outside sheet", "part of the region lies outside the scan"),
    Quality.SATURATED: ("saturated", "codes at the end of the scanner's range in this region"),
    Quality.MISFIT: ("misfit", "lines of this sheet lie too far from the standard's to be compared"),
    Quality.PITCH_DOUBT: ("pitch doubt", "hatching may be matched one line off here"),
    Quality.NO_PLATE_MARK: ("no plate mark", "no plate mark found: laid by the line work alone"),
    Quality.PART_OF_PLATE_MARK: ("part of plate mark", "one or two edges of the plate mark were not found"),
    Quality.CORNERS_BY_HAND: ("corners by hand", "corners of the plate mark were given in pulls.csv"),
    Quality.UPSIDE_DOWN: ("upside down", "the sheet lay turned by 180 degrees and was turned back"),
    Quality.MIRRORED: ("mirrored", "the sheet is a mirror image of the standard, as a counterproof is"),
    Quality.OTHER_PLATE: ("other plate", "the line work is not that of the standard"),
    Quality.BLANK: ("blank", "no ink was found on the sheet"),
    Quality.CURVE_ASSUMED: ("curve assumed", "no profile and no tone_curve: sRGB was assumed"),
    Quality.PPI_ASSUMED: ("ppi assumed", "the scan names no resolution: edition.toml's was used"),
    Quality.LITTLE_MARGIN: ("little margin", "little bare paper in the scan: the paper level is uncertain"),
    Quality.LOW_RESOLUTION: ("low resolution", "under 300 ppi: line measures are doubtful"),
    Quality.NO_WEDGE: (
        "no wedge",
        "the step wedge was not found or cannot be used: the scan's own curve stands in; `curve` says why",
    ),
    Quality.NO_FLAT_FIELD: (
        "no flat field",
        "the flat field cannot be read, is of another size or resolution, or is no blank sheet: not used",
    ),
    Quality.NO_EDGE: ("no edge", "the box of the slanted edge holds none: resolution is told from the lines"),
    Quality.LOSSY: ("lossy file", "JPEG compression: fine lines and film are altered a little"),
}
"""Word used in the tables, and its meaning, for each flag."""


def words(flags: Quality | int) -> str:
    """Return the flags as the tables write them: words joined by ``"; "``, empty for none.

    >>> words(Quality.TOO_FINE | Quality.MIRRORED)
    'too fine; mirrored'
    """
    value = Quality(flags)
    return "; ".join(word for flag, (word, _) in WORDS.items() if flag in value)


def from_words(text: str) -> Quality:
    """Return the flags of a table cell; the inverse of `words`.

    >>> from_words("too fine; mirrored") == Quality.TOO_FINE | Quality.MIRRORED
    True
    """
    by_word = {word: flag for flag, (word, _) in WORDS.items()}
    flags = Quality.NONE
    for word in filter(None, (part.strip() for part in text.split(";"))):
        flags |= by_word[word]
    return flags
