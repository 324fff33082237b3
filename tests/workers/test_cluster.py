"""How sheets are handed out to a cluster; the measuring itself is replaced on the workers."""

import logging
import os
from pathlib import Path

import pytest
from distributed import Client, WorkerPlugin

from proofkit.errors import ClusterError
from proofkit.folder.edition import Edition, Pull
from proofkit.workers import remote
from proofkit.workers.attempt import Outcome
from proofkit.workers.cluster import _quiet, client_of, on_cluster
from tests.workers.machines import machines

PULLS = tuple(Pull(str(number), f"{number}.tif") for number in range(6))
EDITION = Edition(Path("a"), "Harbour", PULLS, (), "1")
VERSION = remote.measure_version()


class Replaced(WorkerPlugin):
    """Puts another function in the place of measuring, on each worker that is there or comes later."""

    def __init__(self, attempt):
        self.attempt = attempt

    def setup(self, worker):
        remote.attempt = self.attempt
        remote.is_there = lambda edition, pull: pull.scan != "unseen.tif"


def at_once(edition, pull, standard):
    return Outcome(pull.pull, why=f"{edition.title} {standard}")


def first_visit_kills(edition, pull, standard):
    mark = Path(standard) / pull.pull
    if pull.pull == "2" and not mark.exists():
        mark.touch()
        os._exit(1)
    return Outcome(pull.pull, why="done")


def always_kills(edition, pull, standard):
    if pull.pull == "2":
        with (Path(standard) / "visits").open("a") as visits:
            visits.write("x")
        os._exit(1)
    return Outcome(pull.pull, why="done")


def never_enough(edition, pull, standard):
    if pull.pull == "2":
        with (Path(standard) / "visits").open("a") as visits:
            visits.write("x")
        return Outcome(pull.pull, why="needs more memory", out_of_memory=True)
    return Outcome(pull.pull, why="done")


@pytest.fixture
def cluster(tmp_path):
    """Makes a cluster of separate processes whose workers do what they are given in place of measuring."""
    kept = []

    def make(attempt, workers, **options):
        context = machines(tmp_path, workers, **options)
        made = context.__enter__()
        client = Client(made.address, set_as_default=False)
        kept.append((context, client))
        client.register_plugin(Replaced(attempt))
        return made, client

    yield make
    for context, client in kept:
        client.close()
        context.__exit__(None, None, None)


def outcomes(client, standard="x", pulls=PULLS):
    return {outcome.pull: outcome.why for outcome in on_cluster(client, EDITION, standard, pulls, VERSION)}


def test_every_sheet_comes_back_under_its_own_name(cluster):
    _, client = cluster(at_once, 2)
    assert outcomes(client, "standard") == {pull.pull: "Harbour standard" for pull in PULLS}
    assert outcomes(client, "another") == {pull.pull: "Harbour another" for pull in PULLS}


def test_a_worker_that_dies_with_a_sheet_and_the_standard_costs_time_only(cluster, tmp_path):
    made, client = cluster(first_visit_kills, 1)  # the only worker: the standard is lost with it
    given = on_cluster(client, EDITION, str(tmp_path), PULLS, VERSION)
    found = {}
    for outcome in given:
        found[outcome.pull] = outcome.why
        if len(made.workers) == 1:
            made.workers.append(made.add())
    assert found == {pull.pull: "done" for pull in PULLS}


def test_a_sheet_that_kills_every_worker_is_tried_alone_and_reported(cluster, tmp_path):
    _, client = cluster(always_kills, 3, killed=0)
    found = {}
    for outcome in on_cluster(client, EDITION, str(tmp_path), PULLS, VERSION):
        found[outcome.pull] = outcome.why
    assert "needs more memory than a worker has" in found.pop("2")
    assert found == {pull.pull: "done" for pull in PULLS if pull.pull != "2"}


def test_a_sheet_that_finds_no_memory_is_tried_once_more(cluster, tmp_path):
    _, client = cluster(never_enough, 2)
    assert outcomes(client, str(tmp_path))["2"] == "needs more memory"
    assert (tmp_path / "visits").read_text() == "xx"


def test_a_scan_that_a_worker_does_not_see_is_told_with_the_worker(cluster):
    _, client = cluster(at_once, 1)
    found = outcomes(client, pulls=(Pull("7", "unseen.tif"), PULLS[0]))
    assert "not to be seen from the worker" in found["7"]
    assert found["0"] == "Harbour x"


def test_workers_of_another_version_are_refused(cluster):
    _, client = cluster(at_once, 1)
    with pytest.raises(ClusterError, match=r"by 0\.0\.0\+other") as caught:
        list(on_cluster(client, EDITION, "x", PULLS, "0.0.0+other"))
    assert "\n" not in str(caught.value)


def test_a_cluster_that_goes_away_is_told_in_one_line(cluster):
    made, client = cluster(at_once, 1)
    given = on_cluster(client, EDITION, "x", PULLS, VERSION)
    next(given)
    made.stop()
    with pytest.raises(ClusterError, match="went away") as caught:
        list(given)
    assert "\n" not in str(caught.value)


def test_a_cluster_whose_last_worker_is_gone_is_not_waited_for_for_ever(cluster, tmp_path, monkeypatch):
    monkeypatch.setattr("proofkit.workers.cluster.LOOK_S", 0.1)
    monkeypatch.setattr("proofkit.workers.cluster.DESERTED_S", 0.5)
    _, client = cluster(always_kills, 1)
    with pytest.raises(ClusterError, match="went away"):
        outcomes(client, str(tmp_path), PULLS[2:3])


def test_a_cluster_without_workers_is_told(cluster):
    _, client = cluster(at_once, 0)
    with pytest.raises(ClusterError, match="no worker"):
        outcomes(client)


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense", "carrier://pigeon:1", ""])
def test_an_address_at_which_nobody_answers_is_told(address, monkeypatch):
    monkeypatch.setattr("proofkit.workers.cluster.CONNECT_S", 1.0)
    with pytest.raises(ClusterError, match="tcp://host:8786") as caught, client_of(address):
        pass
    assert "\n" not in str(caught.value)


def test_dask_is_quiet_also_where_it_set_a_level_of_its_own():
    """Distributed gives its client's logger a level of its own: once, a lost scheduler put traces on the terminal."""
    logger = logging.getLogger("distributed.client")
    assert logger.level not in (logging.NOTSET, logging.CRITICAL)
    assert logger.isEnabledFor(logging.ERROR)
    with _quiet():
        assert not logger.isEnabledFor(logging.ERROR)
    assert logger.isEnabledFor(logging.ERROR)
