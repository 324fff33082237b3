import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from proofkit.threads import each_in_order, processors, threads_inside, threads_limited


@pytest.mark.parametrize("most", [1, 2, 5])
def test_results_stand_in_the_order_of_the_parts(most):
    def job(part):
        time.sleep(0.01 * (part % 3 == 0))
        return part * part

    with threads_limited(most):
        assert each_in_order(job, range(20)) == [part * part for part in range(20)]


def test_as_many_threads_work_at_a_time_as_are_allowed_and_no_more():
    for most in (1, 3):
        meet = threading.Barrier(most, timeout=20)
        with threads_limited(most):
            each_in_order(lambda _, meet=meet: meet.wait(), range(3 * most))  # a broken barrier raises
        at_once, seen = threading.Semaphore(most), []

        def job(_, at_once=at_once, seen=seen):
            seen.append(at_once.acquire(blocking=False))
            time.sleep(0.002)
            at_once.release()

        with threads_limited(most):
            each_in_order(job, range(20))
        assert all(seen)


def test_a_part_does_not_divide_its_own_work_again():
    with threads_limited(2):
        assert each_in_order(lambda _: threads_inside(), range(2)) == [1, 1]
        assert threads_inside() == 2


def test_a_limit_holds_for_its_own_thread_and_its_own_block():
    assert threads_inside() == processors() >= 1
    with threads_limited(7), ThreadPoolExecutor(1) as pool:
        assert threads_inside() == 7
        assert pool.submit(threads_inside).result() == processors()
    assert threads_inside() == processors()


def test_a_fault_of_one_part_rises():
    def job(part):
        if part == 3:
            raise ValueError("part 3")
        return part

    with threads_limited(2), pytest.raises(ValueError, match="part 3"):
        each_in_order(job, range(6))
