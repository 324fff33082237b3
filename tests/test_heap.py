"""How many heaps the C library keeps, as it says itself (malloc_info(3))."""

import os
import subprocess
import sys

import pytest

COUNT = """
import ctypes, threading
from proofkit.heap import share_one_heap
told = share_one_heap() if {wanted} else None
every = threading.Barrier(3)
def take():
    every.wait()
    held = [ctypes.CDLL(None).malloc(5000) for _ in range(200)]
    every.wait()
threads = [threading.Thread(target=take) for _ in range(3)]
[thread.start() for thread in threads]
[thread.join() for thread in threads]
libc = ctypes.CDLL(None)
libc.malloc_info(0, ctypes.c_void_p.in_dll(libc, "stdout"))
libc.fflush(None)
print(told)
"""


def heaps(wanted, **environment):
    """Number of heaps after three threads took memory, and what the call said."""
    settings = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
    done = subprocess.run(
        [sys.executable, "-c", COUNT.format(wanted=wanted)],
        env=settings | environment, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout.count("<heap nr="), done.stdout.split()[-1]


@pytest.mark.skipif(sys.platform != "linux", reason="glibc's settings")
def test_threads_share_one_heap():
    alone, told = heaps(wanted=True)
    assert (alone, told) == (1, "True")
    assert heaps(wanted=False)[0] > 1


@pytest.mark.skipif(sys.platform != "linux", reason="glibc's settings")
def test_a_users_own_number_of_heaps_stands():
    count, told = heaps(wanted=True, MALLOC_ARENA_MAX="2")
    assert count == 2
    assert told == "False"
