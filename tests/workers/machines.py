"""Scheduler and workers of a cluster as processes of their own, on the loopback address."""

import os
import re
import subprocess
import sys
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[2]


class Machines:
    """A scheduler and its workers, each of which can be killed."""

    def __init__(self, folder, workers, *, threads=1, killed=3):
        self.folder = folder
        self.killed = killed  # deaths of workers that a task may cause (dask's own setting is 3)
        self.processes = []
        scheduler = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--no-show"]
        self.scheduler, told = self._start(
            "distributed.cli.dask_scheduler", scheduler, r"Scheduler at:\s+(tcp://\S+)"
        )
        self.address = told
        self.workers = [self.add(threads) for _ in range(workers)]

    def add(self, threads=1):
        """Start one more worker, without a nanny: what is killed stays dead."""
        options = [
            self.address,
            "--no-nanny",
            "--nthreads",
            str(threads),
            "--no-dashboard",
            "--host",
            "127.0.0.1",
        ]
        options += ["--local-directory", str(self.folder), "--memory-limit", "0"]
        return self._start("distributed.cli.dask_worker", options, r"Registered to:\s+(tcp://\S+)")[0]

    def stop(self):
        for process in reversed(self.processes):
            process.kill()
        for process in self.processes:
            process.wait()
            process.stderr.close()

    def _start(self, module, options, answer):
        """Start a program and wait until it says what is looked for."""
        environment = {
            **os.environ,
            "PYTHONPATH": str(ROOT),
            "PYTHONUNBUFFERED": "1",
            "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": str(self.killed),
        }
        process = subprocess.Popen(
            [sys.executable, "-m", module, *options], cwd=self.folder, env=environment, text=True,
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE,
        )  # fmt: skip
        self.processes.append(process)
        said = []
        for line in process.stderr:
            said.append(line)
            found = re.search(answer, line)
            if found:
                return process, found[1]
        raise RuntimeError("".join(said))


@contextmanager
def machines(folder, workers, **options):
    """Give a cluster of separate processes."""
    made = Machines(folder, workers, **options)
    try:
        yield made
    finally:
        made.stop()
