"""reflectance."""
