"""How many sheets to measure at once: as many as there are processors, as long as memory is enough."""

import os
from pathlib import Path

BYTES_PER_PX = 6.0
"""Memory that measuring a sheet takes for each pixel of it: a JPEG lies whole beside its plane while it is read, 5.4;
other files take 2.6 to 3.0, as measured from 17 to 280 Mpx. [bytes]"""

BYTES_PER_POINT = 200.0
"""... and for each point of the standard's lines: 160 were measured on 560 000 points. [bytes]"""

BYTES_PER_SHEET = 100e6
"""... and beside both: 60 MB were measured on few lines. [bytes]"""

MEMORY_FRACTION = 0.7
"""Share of the free memory that is used; the rest is for other programs and the file cache. [-]"""

MEMORY_UNKNOWN = 4e9
"""Free memory that is believed where the system does not tell. [bytes]"""


def free_memory() -> float:
    """Return the memory that is free for this program. [bytes]"""
    free = MEMORY_UNKNOWN
    try:
        for line in Path("/proc/meminfo").read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                free = 1024.0 * int(line.split()[1])
    except OSError:
        if "SC_PHYS_PAGES" in getattr(os, "sysconf_names", {}):
            free = 0.5 * os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    return min(free, _group_limit())


def _group_limit() -> float:
    """Return what a container still allows. [bytes]"""
    group = Path("/sys/fs/cgroup")
    try:
        limit = (group / "memory.max").read_text(encoding="ascii").strip()
        used = (group / "memory.current").read_text(encoding="ascii").strip()
    except OSError:
        return float("inf")
    return float(limit) - float(used) if limit.isdecimal() else float("inf")


def sheet_bytes(largest_px: int, points: int) -> float:
    """Return the memory that measuring a sheet may take. [bytes]

    Parameters
    ----------
    largest_px : int
        Pixels of the largest scan. [px]
    points : int
        Points of the standard's lines.
    """
    return BYTES_PER_SHEET + BYTES_PER_PX * largest_px + BYTES_PER_POINT * points


def workers_for(bytes_per_sheet: float, sheets: int, free_bytes: float, most: int) -> int:
    """Return how many sheets to measure at once; always at least one.

    Parameters
    ----------
    bytes_per_sheet : float
        From `sheet_bytes`. [bytes]
    sheets : int
        How many there are to measure.
    free_bytes : float
        Free memory. [bytes]
    most : int
        Number of processors, or what the user asked for.

    Examples
    --------
    >>> workers_for(sheet_bytes(70_000_000, 500_000), 50, 8e9, 4)
    4
    >>> workers_for(sheet_bytes(277_000_000, 500_000), 50, 4e9, 4)
    1
    """
    return max(1, min(most, sheets, int(MEMORY_FRACTION * free_bytes / bytes_per_sheet)))
