"""Sheets by the machines of a dask cluster (extra ``proofkit[cluster]``)."""

from __future__ import annotations

import logging
from collections.abc import Generator, Iterator, Mapping, Sequence
from concurrent.futures import CancelledError
from contextlib import contextmanager
from threading import Event, Thread
from typing import TYPE_CHECKING, TypeAlias

from proofkit.errors import ClusterError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.sheet import Standard
from proofkit.workers.attempt import Outcome
from proofkit.workers.remote import Answer, measure_there

if TYPE_CHECKING:
    from distributed import Client, Future

Cluster: TypeAlias = "str | Client"
"""Address of a scheduler, or a client of one."""

CONNECT_S = 20.0
"""How long to wait for the scheduler to answer at first. [s]"""

LOOK_S = 5.0
"""How often to look whether there is still a worker. [s]"""

DESERTED_S = 120.0
"""How long to wait for a worker when the last one has gone: nannies start a new one in seconds. [s]"""

ROUNDS = 4
"""How often sheets are handed out anew after a worker took the standard with it. Choice of ours."""


@contextmanager
def client_of(cluster: Cluster) -> Iterator[Client]:
    """Give a client of a cluster; one that was made here is closed at the end.

    Raises
    ------
    ClusterError
        If the package is missing, nobody answers or there is no worker: one line.
    """
    try:
        from distributed import Client  # noqa: PLC0415  an optional dependency
    except ModuleNotFoundError as error:
        raise ClusterError(
            "A cluster needs the Python package distributed (it comes with proofkit[cluster]), which is not "
            "installed. Install it, or leave --cluster out."
        ) from error
    if not isinstance(cluster, str):
        yield cluster
        return
    with _quiet():
        try:
            client = Client(cluster, timeout=CONNECT_S, set_as_default=False)
        except (
            OSError,
            ValueError,
            ImportError,
            AssertionError,
        ) as error:  # the last: a machine too busy for dask
            raise ClusterError(
                f"No dask scheduler answers at {quoted(cluster)} ({_short(error)}). Start one (dask scheduler), or "
                "mend the address; it looks like tcp://host:8786."
            ) from error
        try:
            yield client
        finally:
            client.close(timeout=5)


def on_cluster(
    client: Client, edition: Edition, standard: Standard, pulls: Sequence[Pull], version: str
) -> Generator[Outcome]:
    """Give the outcome of each pull, in the order in which the cluster has them ready.

    Parameters
    ----------
    client : distributed.Client
    edition : Edition
    standard : Standard
        Without its scan; sent to every worker once.
    pulls : sequence of Pull
    version : str
        Of the measuring program here; workers must have the same.

    Raises
    ------
    ClusterError
        If the cluster goes away, has no worker, or measures by another version: one line.

    Notes
    -----
    A sheet whose worker dies is done again by another one, by dask itself; one that kills three workers, or finds no
    memory, is done once more when all others are ready and nothing else is under way, then reported. Results leave the
    cluster as soon as they are here, so its memory does not grow with the pile.
    """
    _check_workers(client)
    left = {pull.pull: pull for pull in pulls}
    again: list[Pull] = []
    with _quiet():
        try:
            for _ in range(ROUNDS):
                for outcome in _round(client, edition, standard, left, version):
                    del left[outcome.pull]
                    if outcome.out_of_memory:
                        again.append(next(pull for pull in pulls if pull.pull == outcome.pull))
                    else:
                        yield outcome
                if not left:
                    break
            for pull in again:
                yield from _round(client, edition, standard, {pull.pull: pull}, version)
        except OSError as error:
            raise _gone(error) from error
    if left:
        raise _gone(None)


def _round(
    client: Client, edition: Edition, standard: Standard, pulls: Mapping[str, Pull], version: str
) -> Iterator[Outcome]:
    """Hand sheets out and give what comes back; those that were lost with the standard are left out."""
    from distributed import as_completed  # noqa: PLC0415  an optional dependency

    try:
        (there,) = client.scatter([(edition, standard)], broadcast=True, hash=False)
    except (OSError, CancelledError) as error:
        raise _gone(error) from error
    futures: dict[str, Future[Answer]] = {
        name: client.submit(measure_there, there, pull, version, key=f"{there.key}-{number}", pure=False)
        for number, (name, pull) in enumerate(pulls.items())
    }
    names = {future.key: name for name, future in futures.items()}
    with _watched(client, futures):
        try:
            for future in as_completed(list(futures.values()), loop=client.loop):
                name = names[future.key]
                outcome = _outcome(client, future, pulls[name], version)
                future.release()
                del futures[name]
                if outcome is not None:
                    yield outcome
        finally:
            for future in futures.values():
                future.cancel()
            there.release()


@contextmanager
def _watched(client: Client, futures: Mapping[str, Future[Answer]]) -> Iterator[None]:
    """Give up waiting when there is no worker for long: dask itself would wait for ever.

    Raises
    ------
    ClusterError
        When that was so.
    """
    ended, deserted = Event(), Event()

    def watch() -> None:
        alone_s = 0.0
        while not ended.wait(LOOK_S):
            try:
                alone_s = 0.0 if client.nthreads() else alone_s + LOOK_S
            except (OSError, RuntimeError, CancelledError):
                return  # the scheduler itself is gone; the futures say so
            if alone_s >= DESERTED_S:
                deserted.set()
                for future in list(futures.values()):
                    future.cancel()
                return

    watching = Thread(target=watch, name="watch over the cluster", daemon=True)
    watching.start()
    try:
        yield
    finally:
        ended.set()
        watching.join()
    if deserted.is_set() and futures:
        raise _gone(None)


def _outcome(client: Client, future: Future[Answer], pull: Pull, version: str) -> Outcome | None:
    """Return what a future brought; None when it was lost through no fault of its own."""
    from distributed import KilledWorker  # noqa: PLC0415  an optional dependency

    try:
        if future.status == "finished":
            return _same_version(future.result(), version)
        error = future.exception() if future.status == "error" else CancelledError()
    except CancelledError as lost:  # the worker died before it could hand its result over
        error = lost
    if isinstance(error, CancelledError):
        if client.status != "running":
            raise _gone(None)
        return None
    if isinstance(error, KilledWorker):
        why = (
            f"Scan {quoted(pull.scan)} ended the worker that measured it, also by itself: it needs more memory than a "
            "worker has. Give workers more memory, or measure it on this machine without --cluster."
        )
        return Outcome(pull.pull, why=why, out_of_memory=True)
    if isinstance(error, ImportError | AttributeError):
        raise ClusterError(
            f"A worker cannot run proofkit ({_short(error)}). Install the same proofkit on all machines."
        ) from error
    why = f"Scan {quoted(pull.scan)} could not be measured by the cluster ({_short(error)}). Run again."
    return Outcome(pull.pull, why=why)


def _same_version(answer: Answer, version: str) -> Outcome:
    if answer.other_version:
        raise ClusterError(
            f"The workers measure by proofkit {answer.other_version}, this program by {version}. "
            "Install the same on all machines, and start the workers anew."
        )
    return answer.outcome


def _check_workers(client: Client) -> None:
    if not client.scheduler_info().get("workers"):
        raise ClusterError("The cluster has no worker. Start some (dask worker ADDRESS), then run again.")


def _gone(error: BaseException | None) -> ClusterError:
    what = f" ({_short(error)})" if error is not None else ""
    return ClusterError(
        f"The cluster went away{what}. Sheets that were measured are kept; run again when it is back, or without "
        "--cluster."
    )


def _short(error: BaseException | None) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return text if len(text) <= 160 else f"{text[:159]}…"


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep dask's own log lines about lost connections from the terminal: what matters is said in one line.

    Dask gives some of its loggers a level of their own, which that of the topmost does not reach.
    """
    named = [name for name in logging.root.manager.loggerDict if name.partition(".")[0] == "distributed"]
    loggers = [logging.getLogger(name) for name in {"distributed", *named}]
    before = [logger.level for logger in loggers]
    for logger in loggers:
        logger.setLevel(logging.CRITICAL)
    try:
        yield
    finally:
        for logger, level in zip(loggers, before, strict=True):
            logger.setLevel(level)
