"""Tests of the charts."""
