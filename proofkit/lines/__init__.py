"""lines."""
