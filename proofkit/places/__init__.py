"""Places of single sheets that leave the picture of the edition: specks, slits, missing strokes, smears."""

from proofkit.places.find import find_places
from proofkit.places.types import FinePictures, FoundPlaces, Place

__all__ = ["FinePictures", "FoundPlaces", "Place", "find_places"]
