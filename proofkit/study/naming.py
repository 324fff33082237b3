"""What responses are called: measures by their own names, columns of experiment.csv by theirs without the unit."""

from proofkit.figures.words import MEASURE_WORDS, measure_word, unit_of
from proofkit.study.experiment import UNITS, unit_of_name


def response_word(name: str) -> str:
    """Return the name of a response for people.

    >>> response_word("line_load_um"), response_word("depth_um")
    ('Line load', 'Depth')
    """
    if name in MEASURE_WORDS:
        return measure_word(name)
    ending = next((one for one in UNITS if name.endswith(one)), "")
    words = name.removesuffix(ending).replace("_", " ")
    return words[:1].upper() + words[1:]


def response_unit(name: str) -> str:
    """Return the unit of a response, empty for none.

    >>> response_unit("line_load_um"), response_unit("tone_fraction"), response_unit("depth_um")
    ('µm', '', 'µm')
    """
    return unit_of(name) if name in MEASURE_WORDS else unit_of_name(name)
