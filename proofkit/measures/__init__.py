"""measures."""
