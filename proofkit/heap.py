"""How the C library keeps the memory of this process."""

import ctypes
import os
import sys
from collections.abc import Mapping
from functools import cache

M_TRIM_THRESHOLD, M_MMAP_THRESHOLD, M_ARENA_MAX = -1, -3, -8
"""Names of glibc's settings (malloc.h, mallopt(3))."""


def set_malloc(settings: Mapping[int, int]) -> bool:
    """Change settings of glibc's malloc in this process; return whether all were taken: none by another C library."""
    if not sys.platform.startswith("linux"):
        return False
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError):
        return False
    return all(mallopt(name, value) for name, value in settings.items())


@cache
def share_one_heap() -> bool:
    """Let all threads take memory from one heap, once a process; return whether it was set.

    Else each thread of a sheet has one of its own, and what it gave back waits there for the next thread that happens
    to get it: two threads took 100 to 140 MB more for a sheet of 70 Mpx than one, so 15 MB, at no more processor time
    (buffers of whole sheets are mapped by themselves). A user's own ``MALLOC_ARENA_MAX`` stands.
    """
    return "MALLOC_ARENA_MAX" not in os.environ and set_malloc({M_ARENA_MAX: 1})
