"""Find the places of all sheets of an edition that leave its picture."""

from collections.abc import Sequence

from proofkit.places.hits import find_hits
from proofkit.places.marks import places_of
from proofkit.places.picture import edition_picture
from proofkit.places.types import FinePictures, FoundPlaces, Place
from proofkit.threads import each_in_order

FEWEST_SHEETS = 3
"""Of two sheets nobody can say which of them has the mark."""

FEW_SHEETS = 6
"""Below this many sheets a mark on two of them may be taken for the plate's own work."""

MOST_PLACES = 40
"""Places told of one sheet; one with more differs as a whole."""


def find_places(pulls: Sequence[str], pictures: FinePictures, shape: tuple[int, int]) -> FoundPlaces:
    """Return where single sheets leave the picture of the edition.

    Parameters
    ----------
    pulls : sequence of str
        Sheets of one state, laid on the same standard, in order of printing.
    pictures : FinePictures
        Gives strips of their fine pictures.
    shape : tuple of int
        Rows and columns of the fine pictures.

    Returns
    -------
    FoundPlaces
        None with fewer than three sheets, and a remark that says so.

    Notes
    -----
    The picture of the edition is the median of all sheets in each cell of 0.125 mm. From each sheet its own course is
    taken (more film, more ink, lines a little to the side, over millimetres), the rest is averaged over two sizes of
    marks, and a cell counts when it is seven spreads from the median. The spread is that of the cell over the
    edition, steadied by cells of like ink and like slope.
    """
    if len(pulls) < FEWEST_SHEETS:
        return FoundPlaces(
            (),
            (f"Single places are told from {FEWEST_SHEETS} comparable sheets on; there are {len(pulls)}.",),
        )
    picture = edition_picture(pulls, pictures, shape, FEWEST_SHEETS)
    found = find_hits(picture, pictures)
    places: list[Place] = []
    remarks: list[str] = []
    if len(pulls) < FEW_SHEETS:
        remarks.append(
            f"Single places rest on {len(pulls)} sheets only: a mark on two of them may be taken for the plate's own."
        )
    all_places = each_in_order(lambda pull: places_of(pull, found[pull], picture.middle), pulls)
    for pull, of_sheet in zip(pulls, all_places, strict=True):
        if len(of_sheet) > MOST_PLACES:
            remarks.append(
                f"Pull {pull} leaves the picture of the edition in {len(of_sheet)} places: the {MOST_PLACES} most "
                "conspicuous are told, and the sheet differs as a whole."
            )
        places.extend(of_sheet[:MOST_PLACES])
    return FoundPlaces(tuple(places), tuple(remarks))
