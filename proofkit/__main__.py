"""Let ``python -m proofkit`` do what the ``proofkit`` command does."""

import sys

from proofkit.cli import main

if __name__ == "__main__":
    sys.exit(main())
