"""Tests of the panels, without a browser."""
