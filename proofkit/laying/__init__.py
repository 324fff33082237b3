"""laying."""
