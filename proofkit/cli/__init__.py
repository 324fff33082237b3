"""The command line."""

from proofkit.cli.commands import main

__all__ = ["main"]
