import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from proofkit.folder.edition import Pull
from proofkit.threads import threads_inside
from proofkit.workers.attempt import Outcome
from proofkit.workers.threads import SWITCH_S, in_threads, read_ahead

PULLS = [Pull(str(number), f"{number}.tif") for number in range(9)]


def nowhere(pull):
    return Path("nowhere") / pull.scan


@pytest.mark.parametrize("workers", [1, 4])
def test_each_sheet_is_done_once(workers):
    seen = []

    def job(pull):
        seen.append(pull.pull)
        return Outcome(pull.pull, why="done")

    given = [outcome.pull for outcome in in_threads(job, PULLS, workers, nowhere)]
    assert sorted(given) == sorted(seen) == [pull.pull for pull in PULLS]


def test_a_sheet_that_finds_no_memory_is_tried_once_more_when_nothing_else_is_under_way():
    under_way = threading.Semaphore(len(PULLS))
    visits = []

    def job(pull):
        with under_way:
            if pull.pull in {"3", "5"}:
                visits.append((pull.pull, threading.active_count()))
                return Outcome(pull.pull, why="no memory" if pull.pull == "5" or len(visits) < 3 else "done",
                               out_of_memory=pull.pull == "5" or len(visits) < 3)  # fmt: skip
            return Outcome(pull.pull, why="done")

    before = threading.active_count()
    given = {outcome.pull: outcome.why for outcome in in_threads(job, PULLS, 4, nowhere)}
    assert given == {pull.pull: "no memory" if pull.pull == "5" else "done" for pull in PULLS}
    assert sorted(name for name, _ in visits) == ["3", "3", "5", "5"]
    assert [threads for _, threads in visits[2:]] == [before, before]  # the threads have ended


def test_a_fault_that_is_nobodys_stops_the_work():
    def job(pull):
        raise RuntimeError(pull.pull)

    with pytest.raises(RuntimeError):
        list(in_threads(job, PULLS, 2, nowhere))


def test_whoever_stops_listening_leaves_the_rest(monkeypatch):
    seen = []
    left = threading.Event()

    class Pool(ThreadPoolExecutor):
        def shutdown(self, *args, **named):
            super().shutdown(*args, **named)
            left.set()

    def job(pull):
        seen.append(pull.pull)
        if len(seen) > 1:
            left.wait(10)
        return Outcome(pull.pull)

    monkeypatch.setattr("proofkit.workers.threads.ThreadPoolExecutor", Pool)
    given = in_threads(job, PULLS, 1, nowhere)
    assert next(given).pull == PULLS[0].pull
    given.close()
    assert len(seen) <= 2  # the one under way was finished


def test_reading_ahead_does_nothing_where_there_is_nothing(tmp_path):
    read_ahead(tmp_path / "gone.tif")
    (tmp_path / "there.tif").write_bytes(b"abc")
    read_ahead(tmp_path / "there.tif")
    assert (tmp_path / "there.tif").read_bytes() == b"abc"


def test_threads_take_turns_more_often_while_sheets_are_measured_and_as_before_afterwards():
    before, seen = sys.getswitchinterval(), []

    def job(pull):
        seen.append(sys.getswitchinterval())
        return Outcome(pull.pull, why="done")

    sheets = in_threads(job, PULLS, 2, nowhere)
    next(sheets)
    sheets.close()
    assert seen[0] == pytest.approx(SWITCH_S)
    assert sys.getswitchinterval() == before


@pytest.mark.parametrize(("processors", "workers", "share"), [(2, 2, 1), (2, 1, 2), (8, 3, 2), (1, 4, 1)])
def test_processors_that_are_left_over_work_inside_the_sheets(monkeypatch, processors, workers, share):
    monkeypatch.setattr("proofkit.workers.threads.processors", lambda: processors)
    meet = threading.Barrier(min(workers, len(PULLS)), timeout=20)
    seen = []

    def job(pull):
        meet.wait()
        seen.append(threads_inside())
        meet.wait()
        return Outcome(pull.pull, why="done")

    pulls = PULLS[: len(PULLS) // workers * workers]
    list(in_threads(job, pulls, workers, nowhere))
    assert seen[: len(pulls) - workers] == [share] * (len(pulls) - workers)


def test_the_last_sheet_takes_the_processors_of_those_that_are_ready(monkeypatch):
    monkeypatch.setattr("proofkit.workers.threads.processors", lambda: 4)
    others_wait, last = threading.Event(), threading.Event()
    seen = []

    def job(pull):
        if pull is PULLS[0]:
            seen.append(threads_inside())
            others_wait.set()
            assert last.wait(20)
            while threads_inside() < 4:
                threading.Event().wait(0.001)
            seen.append(threads_inside())
        elif pull is PULLS[2]:
            assert others_wait.wait(20)
            last.set()
        return Outcome(pull.pull, why="done")

    given = in_threads(job, PULLS[:3], 2, nowhere)
    assert len(list(given)) == 3
    assert seen == [2, 4]
