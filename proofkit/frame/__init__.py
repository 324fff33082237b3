"""frame."""
