"""Run measurements in processes of their own, in pairs, and say what machine they ran on."""

import json
import os
import platform
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]
LIBRARIES = (
    "numpy",
    "numba",
    "tifffile",
    "imagecodecs",
    "opencv-python-headless",
    "scikit-image",
    "distributed",
)


def one(task, *arguments, threads=None, processors=None):
    """Return the figures of one measurement, done in a process of its own, on as many processors as are given."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    if task != "plain":
        environment.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the commands set it
    if threads is not None:
        environment |= dict.fromkeys(
            ("NUMBA_NUM_THREADS", "OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"), str(threads)
        )
    command = [sys.executable, "-m", "tests.bench.one", task, json.dumps(arguments, default=str)]
    if processors is not None:
        allowed = ",".join(str(number) for number in sorted(os.sched_getaffinity(0))[:processors])
        command = ["taskset", "--cpu-list", allowed, *command]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    if done.returncode:
        raise RuntimeError(f"{task} {arguments}: {done.stderr[-2000:]}")
    return json.loads(done.stdout.splitlines()[-1])


def paired(repeats, *measurements):
    """Return the figures of several measurements, each a list, done in turn so that all meet the same disturbances."""
    found = [[] for _ in measurements]
    for _ in range(repeats):
        for results, (task, *arguments) in zip(found, measurements, strict=True):
            results.append(one(task, *arguments))
    return found


def middle(results, name):
    """Return the median of a figure."""
    return median(result[name] for result in results)


def ratio(one_way, other_way, name):
    """Return the median of the ratios of a figure, pair by pair."""
    return median(a[name] / b[name] for a, b in zip(one_way, other_way, strict=True))


def machine():
    """Return a line that describes the machine, without its name."""
    kind = next(
        (
            line.split(":", 1)[1].strip()
            for line in Path("/proc/cpuinfo").read_text().splitlines()
            if "model name" in line
        ),
        platform.machine(),
    )
    memory = int(Path("/proc/meminfo").read_text().split()[1]) / 1e6
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    load = os.getloadavg()[0]
    return (
        f"{len(os.sched_getaffinity(0))} processors ({kind}), {memory:.0f} GB, {platform.system()}, "
        f"Python {platform.python_version()}, {versions}; load of the machine before: {load:.1f}"
    )


def table(heads, rows):
    """Return a Markdown table."""
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    lines += ["| " + " | ".join(_cell(value) for value in row) + " |" for row in rows]
    return "\n".join(lines)


def _cell(value):
    if isinstance(value, float):
        return f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
    return str(value)
