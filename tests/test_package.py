"""What importing the package does to the process."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

COUNT = (
    "import os, numpy as np, scipy.linalg; np.ones((400, 400)) @ np.ones((400, 400)); scipy.linalg.inv(np.eye(300)); "
    "print(len(os.listdir('/proc/self/task')), os.environ.get('OPENBLAS_NUM_THREADS'))"
)


def threads_and_setting(module, **environment):
    told = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    done = subprocess.run(
        [sys.executable, "-c", f"import {module}; {COUNT}"],
        env=told | environment,
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout.split()


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="threads are counted in /proc")
def test_linear_algebra_of_the_commands_runs_in_one_thread_unless_the_user_says_otherwise():
    assert threads_and_setting("proofkit.cli") == ["1", "1"]
    assert threads_and_setting("proofkit.cli", OPENBLAS_NUM_THREADS="2")[1] == "2"


def test_whoever_imports_proofkit_keeps_their_own_setting():
    assert threads_and_setting("proofkit")[1] == "None"


def test_linear_algebra_of_a_notebook_keeps_to_one_thread_only_while_something_is_measured():
    """Told by the libraries themselves, in a process that has loaded them with two threads."""
    code = """
import numpy, scipy.linalg
from concurrent.futures import ThreadPoolExecutor
from threadpoolctl import threadpool_info
from proofkit.threads import solved_in_one_thread

def threads():
    return {pool["num_threads"] for pool in threadpool_info() if pool["user_api"] == "blas"}

with solved_in_one_thread(), ThreadPoolExecutor(1) as pool:
    print(threads(), pool.submit(threads).result(), end=" ")
try:
    with solved_in_one_thread():
        raise ValueError
except ValueError:
    print(threads())
"""
    environment = os.environ | {"OPENBLAS_NUM_THREADS": "2"}
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True
    )
    assert done.stdout.split() == ["{1}", "{1}", "{2}"]


def test_a_process_that_measures_sheets_loads_no_tables():
    """A worker of a cluster gives back plain rows; a library of tables would take 65 MB in each."""
    code = "import sys, proofkit.workers.remote; sys.exit('pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
