"""How many threads the work on one sheet may use."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TypeVar

from threadpoolctl import threadpool_limits

T = TypeVar("T")
R = TypeVar("R")

_allowed: ContextVar[Callable[[], int] | None] = ContextVar("threads inside a sheet", default=None)


def processors() -> int:
    """Return how many processors this program may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def threads_inside() -> int:
    """Return how many threads the work at hand may use: as many as there are processors, unless it was told else."""
    allowed = _allowed.get()
    return processors() if allowed is None else max(allowed(), 1)


@contextmanager
def threads_limited(most: int | Callable[[], int]) -> Iterator[None]:
    """Let the work of this block use `most` threads, at least one, where it can be shared.

    A callable is asked anew for each piece of work: more may be free by then.
    """
    token = _allowed.set(most if callable(most) else lambda: most)
    try:
        yield
    finally:
        _allowed.reset(token)


def each_in_order(job: Callable[[T], R], parts: Sequence[T]) -> list[R]:
    """Return ``job(part)`` of every part, in their order, so that results do not depend on the number of threads.

    Parameters
    ----------
    job : callable
        Called from several threads; worth it where it runs without the interpreter's lock. Threads of its own are
        not started in it: what it calls finds that it may use one.
    parts : sequence
    """
    workers = min(threads_inside(), len(parts))
    if workers < 2:
        return [job(part) for part in parts]

    def alone(part: T) -> R:
        with threads_limited(1):
            return job(part)

    with ThreadPoolExecutor(workers, thread_name_prefix="part of a sheet") as pool:
        return list(pool.map(alone, parts))


@contextmanager
def solved_in_one_thread() -> Iterator[None]:
    """Keep linear algebra of this process to one thread in this block.

    What a sheet solves is small: more threads of it only wait for each other, at five to thirty times the processor
    time. A program that imports proofkit, as a notebook does, has its own setting again afterwards.
    """
    with threadpool_limits(limits=1, user_api="blas"):
        yield
