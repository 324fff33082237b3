"""What a worker of a cluster does."""

import os
import socket
from dataclasses import dataclass
from functools import cache

from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.heap import M_MMAP_THRESHOLD, M_TRIM_THRESHOLD, set_malloc
from proofkit.ledger.keys import measure_version
from proofkit.scan.fetching import is_there, scan_place
from proofkit.sheet import Standard
from proofkit.threads import threads_limited
from proofkit.workers.attempt import Outcome, attempt

KEPT_BYTES = 256 << 20
"""Freed memory that a worker keeps for the next buffer."""

MAPPED_BYTES = 32 << 20
"""Buffers from this size on are mapped by themselves: glibc's largest (mallopt(3), DEFAULT_MMAP_THRESHOLD_MAX)."""


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """What a worker sends back."""

    outcome: Outcome
    other_version: str = ""
    """Version of the worker's measuring program when it is not the one that asks."""


def measure_there(task: tuple[Edition, Standard], pull: Pull, version: str) -> Answer:
    """Measure one sheet on a worker.

    Parameters
    ----------
    task : tuple
        Edition and standard, sent to each worker once.
    pull : Pull
    version : str
        Of the program that asks.
    """
    here = measure_version()
    if here != version:
        return Answer(Outcome(pull.pull), here)
    keep_freed_memory()
    edition, standard = task
    if not is_there(edition, pull):
        return Answer(Outcome(pull.pull, why=_unseen(edition, pull)))
    with threads_limited(1):  # other workers have the other processors
        return Answer(attempt(edition, pull, standard))


def _unseen(edition: Edition, pull: Pull) -> str:
    return (
        f"Scan {quoted(pull.scan)} is not to be seen from the worker on {socket.gethostname()} as "
        f"{scan_place(edition, pull)}. Put the edition where all machines see it under the same path, or name its "
        "scans by addresses that they can read."
    )


@cache
def keep_freed_memory() -> bool:
    """Keep freed memory in the process instead of handing it back, once a process; return whether it was set.

    Dask's worker processes run with ``MALLOC_TRIM_THRESHOLD_=65536``: each freed buffer goes back to the system and is
    faulted in again by the next one. Setting any threshold also ends glibc's own adaptation of the mapping threshold,
    so both are set (mallopt(3)).
    """
    if "MALLOC_TRIM_THRESHOLD_" not in os.environ:
        return False
    return set_malloc({M_TRIM_THRESHOLD: KEPT_BYTES, M_MMAP_THRESHOLD: MAPPED_BYTES})
