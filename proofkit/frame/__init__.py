"""The plate mark: found on a scan, or given by hand."""

from proofkit.frame.by_hand import frame_from_corners
from proofkit.frame.find import find_frame

__all__ = ["find_frame", "frame_from_corners"]
