"""Sheets by threads of this program: compiled loops and decoders run without the interpreter's lock."""

import os
import sys
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from contextlib import contextmanager
from pathlib import Path

from proofkit.folder.edition import Pull
from proofkit.threads import processors, threads_limited
from proofkit.workers.attempt import Outcome

SWITCH_S = 0.0002
"""After this time a thread in Python lets another one have the interpreter, for which compiled loops that are over
wait, many hundred times a sheet; by Python's own 0.005 s sheets of 1 Mpx waited twice as long for each other. [s]"""


@contextmanager
def _quick_turns() -> Iterator[None]:
    """Let threads take turns in the interpreter at short notice, for the time of a block."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(min(SWITCH_S, before))
    try:
        yield
    finally:
        sys.setswitchinterval(before)


def in_threads(
    job: Callable[[Pull], Outcome], pulls: Sequence[Pull], workers: int, path_of: Callable[[Pull], Path]
) -> Generator[Outcome]:
    """Give the outcome of `job` for each pull, in the order in which they are ready.

    Parameters
    ----------
    job : callable
        Called from several threads.
    pulls : sequence of Pull
    workers : int
        How many at once.
    path_of : callable
        Where the scan of a pull lies; the system is asked to read the next ones ahead.

    Notes
    -----
    Processors that are left over, as there are fewer sheets, are used inside each of them, and so are those of sheets
    that are ready when none waits any more. What fails for want of memory is done once more, alone, when all others
    are ready. When the caller stops, sheets that are being measured are finished; those that wait are left.
    """
    again: list[Pull] = []
    ready: list[Pull] = []
    waiting: dict[Future[Outcome], Pull] = {}

    def share() -> int:
        return processors() // max(min(workers, len(pulls) - len(ready)), 1)

    with _quick_turns(), ThreadPoolExecutor(workers, thread_name_prefix="sheet") as pool:

        def one(place: int) -> Outcome:
            if place + workers < len(pulls):
                read_ahead(path_of(pulls[place + workers]))
            try:
                with threads_limited(share):
                    return job(pulls[place])
            finally:
                ready.append(pulls[place])

        for place, pull in enumerate(pulls):
            waiting[pool.submit(one, place)] = pull
        try:
            for future in as_completed(waiting):
                outcome = future.result()
                if outcome.out_of_memory:
                    again.append(waiting[future])
                else:
                    yield outcome
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    for pull in again:
        yield job(pull)


def read_ahead(path: Path) -> None:
    """Ask the system to read a file into its cache while other work goes on; where it cannot, nothing is lost."""
    if not hasattr(os, "posix_fadvise"):
        return
    try:
        descriptor = os.open(path, os.O_RDONLY)
    except OSError:
        return  # reading it will say what is wrong
    try:
        os.posix_fadvise(descriptor, 0, 0, os.POSIX_FADV_WILLNEED)
    finally:
        os.close(descriptor)
