"""``python -m tests.bench``: time and memory of reading and measuring, as Markdown tables.

Draws its sheets into a folder, once; runs each measurement in a process of its own; medians of paired runs.
"""

import argparse
import sys
import tempfile
from pathlib import Path

from tests.bench.parts import PARTS
from tests.bench.running import machine
from tests.bench.scans import KINDS, PPI_OF_MEGAPIXELS


def arguments():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--only", nargs="+", choices=PARTS, default=list(PARTS), help="parts to run")
    asked.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "proofkit-bench")
    asked.add_argument("--megapixels", nargs="+", type=int, choices=PPI_OF_MEGAPIXELS, default=[17])
    asked.add_argument(
        "--kinds", nargs="+", choices=KINDS, default=["lzw 8", "deflate 8", "none 8", "lzw 16"]
    )
    asked.add_argument("--sheets", nargs="+", type=int, default=[1, 10], help="sheets of the part `many`")
    asked.add_argument(
        "--pile",
        type=int,
        default=8,
        help="sheets of the part `pile`; an even number, as two are measured at once",
    )
    asked.add_argument("--editions", nargs="+", type=int, default=[1, 30, 100], help="of the part `ledger`")
    asked.add_argument("--largest-plain", type=int, default=70, help="largest sheet for the plain way [Mpx]")
    asked.add_argument("--browser", action="store_true", help="part `viewing` also in a browser")
    asked.add_argument("--repeats", type=int, default=3, help="pairs of runs")
    return asked.parse_args()


if __name__ == "__main__":
    asked = arguments()
    asked.folder.mkdir(parents=True, exist_ok=True)
    sys.stdout.write(f"{machine()}\n")
    for name in asked.only:
        heading, found = PARTS[name](asked)
        sys.stdout.write(f"\n**{heading}**\n\n{found}\n")
        sys.stdout.flush()
