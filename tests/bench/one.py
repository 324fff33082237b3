"""One measurement in a process of its own: ``python -m tests.bench.one TASK JSON`` prints times and memory as JSON.

A process of its own, so that peak memory is that of the task, and nothing is left over from the task before.
"""

import json
import sys
import time
from pathlib import Path


def peak_mb():
    """Return the largest resident memory this process has had. [MB of 10**6 bytes]"""
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) * 1024 / 1e6
    return float("nan")


def reset_peak():
    """Let the kernel count the peak anew (proc(5), clear_refs); what is resident now stays counted."""
    Path("/proc/self/clear_refs").write_text("5")


class Timed:
    """Wall and CPU time of a block, and the peak of memory in it."""

    def __enter__(self):
        self.base = peak_mb()
        reset_peak()
        self._wall, self._cpu = time.perf_counter(), time.process_time()
        return self

    def __exit__(self, *_):
        self.wall, self.cpu = time.perf_counter() - self._wall, time.process_time() - self._cpu
        self.peak = peak_mb()

    def figures(self):
        return {"wall": self.wall, "cpu": self.cpu, "peak_mb": self.peak}


def decode(path, threads):
    """Decode a file as plainly as can be: the whole array, nothing else."""
    if Path(path).suffix == ".tif":
        import tifffile

        with Timed() as timed:
            array = tifffile.imread(path, maxworkers=threads)
    else:
        import imagecodecs

        read = imagecodecs.png_decode if Path(path).suffix == ".png" else imagecodecs.jpeg8_decode
        with Timed() as timed:
            array = read(Path(path).read_bytes())
    return {**timed.figures(), "pixels": array.shape[0] * array.shape[1]}


def read(path, threads):
    """Open and read a scan as the program does: hash, tone curve, luminance plane, overview."""
    from proofkit.folder.edition import Capture
    from proofkit.reflectance import tone_curve
    from proofkit.scan import open_scan, read_scan

    read_scan_warm(path)
    with Timed() as timed:
        file = open_scan(Path(path), ppi=600.0)
        opened = time.process_time()
        scan = read_scan(file, tone_curve(file, Capture(tone_curve="sRGB")), workers=threads)
        reading = time.process_time() - opened
    return {**timed.figures(), "pixels": scan.plane.size, "reading_cpu": reading}


def read_scan_warm(path):
    """Load the compiled code for files of this kind, with a small one beside it."""
    import numpy as np
    import tifffile

    from proofkit.folder.edition import Capture
    from proofkit.reflectance import tone_curve
    from proofkit.scan import open_scan, read_scan

    bits = 16 if "16" in Path(path).parent.name else 8
    coded = {"compression": "lzw", "predictor": True} if Path(path).parent.name.startswith("lzw") else {}
    small = Path(path).parent / f"warm_{bits}{'_lzw' if coded else ''}.tif"
    if not small.exists():
        codes = np.full((64, 64, 3), 200, np.uint16 if bits == 16 else np.uint8)
        tifffile.imwrite(
            small, codes, photometric="rgb", resolution=(600, 600), resolutionunit="INCH", **coded
        )
    file = open_scan(small)
    read_scan(file, tone_curve(file, Capture(tone_curve="sRGB")))


def standard(folder):
    """Make the standard of an edition, and keep it for `sheet`."""
    from proofkit.folder.read import read_edition
    from proofkit.sheet import keeping, make_standard

    edition = read_edition(Path(folder))
    with Timed() as timed:
        made = make_standard(edition, next(entry for entry in edition.pulls if entry.pull == "0"))
    with Timed() as kept_in:
        keeping.keep_standard(_prepared(folder), _key(), made)
    (kept,) = _prepared(folder).glob(f"{_key()[:24]}*")
    return {
        **timed.figures(), "points": made.lines.lines.size, "keep_cpu": kept_in.cpu,
        "kept_mb": kept.stat().st_size / 1e6,
    }  # fmt: skip


def _prepared(folder):
    """Return the folder of the standard that the editions of one size share."""
    return Path(folder).parent / f"prepared_{Path(folder).name.split('_')[0]}"


def ready(folder):
    """Make the standard of an edition where it is not kept yet."""
    if not any(_prepared(folder).glob(f"{_key()[:24]}.*")):
        standard(folder)
    return {}


def _key():
    """Return a key of a standard that holds for this code only; the folder is another for every size."""
    import hashlib

    from proofkit.ledger.keys import measure_version

    return hashlib.sha256(measure_version().encode()).hexdigest()


def _ready(folder):
    """Return an edition, its pulls by name and its standard, which is made if it is not there."""
    from proofkit.folder.read import read_edition
    from proofkit.sheet.keeping import kept_standard

    edition = read_edition(Path(folder))
    ready(folder)
    return edition, {entry.pull: entry for entry in edition.pulls}, kept_standard(_prepared(folder), _key())


def split(folder, pull):
    """Return CPU seconds of each stage of a sheet, after a first time for warmth; in one thread, which is looked at."""
    from proofkit.sheet import measure_sheet
    from proofkit.threads import threads_limited
    from tests.bench.stages import stages

    edition, by_name, standard = _ready(folder)
    with threads_limited(1):
        measure_sheet(edition, by_name[str(pull)], standard)
        return stages(lambda: measure_sheet(edition, by_name[str(pull)], standard))


def sheet(folder, pull, repeats):
    """Measure one sheet of an edition against a standard that is ready, after a first time for warmth."""
    from dataclasses import replace

    from proofkit.sheet import measure_sheet

    with Timed() as loading:
        edition, by_name, standard = _ready(folder)
    measure_sheet(edition, by_name[str(pull)], standard)
    walls, cpus = [], []
    for _ in range(repeats):
        with Timed() as timed:
            result = measure_sheet(replace(edition), by_name[str(pull)], standard)
        walls.append(timed.wall)
        cpus.append(timed.cpu)
    measured = sum("line_load_um" in row for row in result.rows)
    return {
        "wall": sorted(walls)[len(walls) // 2], "cpu": sorted(cpus)[len(cpus) // 2], "peak_mb": timed.peak,
        "base_mb": timed.base, "loading_cpu": loading.cpu, "rows": len(result.rows), "rows_with_lines": measured,
    }  # fmt: skip


def pile(folder, workers, cluster, ledger, after=1):
    """Measure what is new of an edition into a ledger; the time of sheets begins after so many: the standard's own."""
    import os
    import resource

    from proofkit.check.measuring import measure_pile
    from proofkit.folder.read import read_edition
    from proofkit.ledger.connection import close_ledger, open_ledger

    def children():
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        return used.ru_utime + used.ru_stime

    kept = open_ledger(Path(ledger))
    seen = []

    def progress(what, done, _total):
        if what == "measuring":
            seen.append((done, time.perf_counter(), os.times().user + os.times().system))

    with Timed() as timed:
        measured = measure_pile(read_edition(Path(folder)), kept, workers or None, progress, cluster or None)
    close_ledger(kept)
    start = next((entry for entry in seen if entry[0] >= after), None)
    end = seen[-1] if seen else None
    sheets_wall = end[1] - start[1] if start and end else 0.0
    return {
        **timed.figures(), "new": measured.new_sheets, "sheets_wall": sheets_wall, "children_cpu": children(),
        "failures": measured.measured.failures,
    }  # fmt: skip


def plain(path, standard):
    """Measure one sheet as a notebook would, with calls of scikit-image and scipy on whole arrays."""
    from tests.bench.plain import measure_sheet, prepare

    prepared = prepare(standard)
    with Timed() as timed:
        table = measure_sheet(path, prepared)
    return {**timed.figures(), "rows": len(table)}


TASKS = {task.__name__: task for task in (decode, read, standard, ready, split, sheet, pile, plain)}

if __name__ == "__main__":
    if sys.argv[1] != "plain":
        from proofkit.heap import share_one_heap

        share_one_heap()  # as the commands do
    sys.stdout.write(json.dumps(TASKS[sys.argv[1]](*json.loads(sys.argv[2]))) + "\n")
