"""Exit codes of the commands."""

DONE = 0
NOTHING_DONE = 1
SOME_LEFT_OUT = 3
STOPPED = 130
"""Ended with Ctrl-C: 128 + SIGINT, as shells count it (POSIX.1-2017, 2.8.2)."""
