import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# Frees 200 buffers of 1 MB and asks how many pages were faulted in when as many are filled again (getrusage(2)).
FAULTS = """
import resource, sys
from proofkit.workers.remote import keep_freed_memory
if sys.argv[1] == "keep":
    assert keep_freed_memory() is True
def fill():
    return [bytearray(b"x" * (1 << 20)) for _ in range(200)]
fill()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
fill()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


def said(program, *arguments, **environment):
    kept = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
    done = subprocess.run(
        [sys.executable, "-c", program, *arguments], cwd=ROOT, env={**kept, **environment}, text=True,
        capture_output=True, check=True,
    )  # fmt: skip
    return done.stdout.strip()


@pytest.mark.skipif(
    not sys.platform.startswith("linux") or os.confstr("CS_GNU_LIBC_VERSION") is None, reason="glibc only"
)
def test_a_worker_keeps_freed_memory_where_dask_gives_it_back():
    given_back = int(said(FAULTS, "as dask", MALLOC_TRIM_THRESHOLD_="65536"))
    kept = int(said(FAULTS, "keep", MALLOC_TRIM_THRESHOLD_="65536"))
    assert kept < given_back / 10


def test_nothing_is_set_where_dask_set_nothing():
    program = "from proofkit.workers.remote import keep_freed_memory; print(keep_freed_memory())"
    assert said(program) == "False"
