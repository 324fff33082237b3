"""Remake a sample edition: ``python -m tests.simulate [--trial] [FOLDER]``, from the root of the checkout."""

import argparse
import sys
from pathlib import Path

from tests.simulate import trial_sample
from tests.simulate.sample import FOLDER_NAME, make_sample
from tests.simulate.trial_sample import make_trial_sample


def main(arguments: list[str]) -> None:
    """Write the sample edition where the arguments say."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.simulate",
        description="Remake the sample edition: simulated scans of one plate with planted faults, and the truth "
        "beside them in truth/. The same code makes the same files. Takes about two minutes.",
    )
    parser.add_argument("folder", nargs="?", type=Path, help="where to write (default: in sample_scans/)")
    parser.add_argument(
        "--trial", action="store_true", help="the trial proofs that a standard is chosen from"
    )
    given = parser.parse_args(arguments)
    name, make = (trial_sample.FOLDER_NAME, make_trial_sample) if given.trial else (FOLDER_NAME, make_sample)
    folder = given.folder or Path("sample_scans") / name
    make(folder)
    print(f"Wrote {folder}")


if __name__ == "__main__":
    main(sys.argv[1:])
