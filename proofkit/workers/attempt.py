"""Measure one sheet, and say in one line why when it cannot be: the same wherever it is done."""

from dataclasses import dataclass

import cv2

from proofkit.errors import ProofkitError
from proofkit.folder.edition import Edition, Pull
from proofkit.folder.problems import quoted
from proofkit.sheet import SheetResult, Standard, measure_sheet


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What became of one sheet."""

    pull: str
    result: SheetResult | None = None
    why: str = ""
    """Why there is no result, in one line."""
    out_of_memory: bool = False
    """It failed for want of memory, and is worth another attempt when nothing else is under way."""
    is_new: bool = True
    """It was measured now, and was not in the ledger."""


def attempt(edition: Edition, pull: Pull, standard: Standard) -> Outcome:
    """Return a measured sheet, or why it could not be measured: a fault of one scan must not cost the others."""
    scan = f"Scan {quoted(pull.scan)}"
    try:
        return Outcome(pull.pull, measure_sheet(edition, pull, standard))
    except ProofkitError as error:
        why = str(error)
    except OSError as error:
        why = f"{scan} cannot be read ({error.strerror or error}). Check the disk, or copy it anew."
    except MemoryError:
        return _too_large(pull, scan)
    except (ArithmeticError, LookupError, ValueError, cv2.error) as error:
        if getattr(error, "code", None) == cv2.Error.STS_NO_MEM:
            return _too_large(pull, scan)
        # What no check foresaw in one scan; the kind of error helps to mend the program.
        what = f"{type(error).__name__}: {' '.join(str(error).split())}"
        why = f"{scan} could not be measured ({what}). Look at it, and report this."
    return Outcome(pull.pull, why=why)


def _too_large(pull: Pull, scan: str) -> Outcome:
    why = f"{scan} needs more memory than is free, also by itself. Close other programs, or use a larger machine."
    return Outcome(pull.pull, why=why, out_of_memory=True)
