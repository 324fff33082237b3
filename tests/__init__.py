"""Tests of proofkit."""
