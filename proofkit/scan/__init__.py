"""scan."""
