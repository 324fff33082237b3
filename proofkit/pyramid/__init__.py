"""Pyramids: a scan at halving resolutions on disk, so that any part of a large sheet is shown at once."""

from proofkit.pyramid.cache import open_pyramid, ready_pyramid
from proofkit.pyramid.file import read_part
from proofkit.pyramid.types import Part, Pyramid

__all__ = ["Part", "Pyramid", "open_pyramid", "read_part", "ready_pyramid"]
