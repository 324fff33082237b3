"""``python -m tests.heldout FOLDER --seed N``: write one held-out edition."""

import argparse
from pathlib import Path

import cv2

from tests.heldout.edition import Order, write_edition


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.heldout", description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--sheets", type=int, default=16)
    parser.add_argument("--ppi", type=int, default=600)
    parser.add_argument("--size", type=float, nargs=2, metavar=("WIDTH", "HEIGHT"), help="of the plate in mm")
    parser.add_argument("--no-faults", action="store_true")
    given = parser.parse_args()
    cv2.setNumThreads(1)
    size = tuple(given.size) if given.size else None
    write_edition(given.folder, Order(given.seed, given.sheets, given.ppi, not given.no_faults, size))


if __name__ == "__main__":
    main()
