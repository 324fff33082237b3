"""Remake the sample edition: ``python -m tests.simulate [FOLDER]``, from the root of the checkout."""

import argparse
import sys
from pathlib import Path

from tests.simulate.sample import FOLDER_NAME, make_sample


def main(arguments: list[str]) -> None:
    """Write the sample edition where the arguments say."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.simulate",
        description="Remake the sample edition: simulated scans of one plate with planted faults, and the truth "
        "beside them in truth/. The same code makes the same files. Takes about two minutes.",
    )
    default = Path("sample_scans") / FOLDER_NAME
    parser.add_argument(
        "folder", nargs="?", type=Path, default=default, help=f"where to write (default: {default})"
    )
    folder = parser.parse_args(arguments).folder
    make_sample(folder)
    print(f"Wrote {folder}")


if __name__ == "__main__":
    main(sys.argv[1:])
