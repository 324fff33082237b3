"""Errors that proofkit answers in one line: what is wrong, what is allowed, what to do."""


class ProofkitError(Exception):
    """Anything the user can mend; the command line prints it as one line and ends with code 1."""


class FolderError(ProofkitError, ValueError):
    """The edition folder or one of its text files is not as it should be."""


class ScanError(ProofkitError, ValueError):
    """A scan file cannot be read or cannot be trusted; costs that scan only."""


class CalibrationError(ProofkitError, ValueError):
    """The tone curve, profile or step wedge cannot be used."""


class FrameError(ProofkitError, ValueError):
    """No plate mark was found, or the corners given by hand make no plate."""


class LayingError(ProofkitError, ValueError):
    """A sheet could not be laid on the standard."""


class UnlikeError(LayingError):
    """A sheet does not look like the standard: it is blank or shows another plate."""


class RegionError(ProofkitError, ValueError):
    """A region is not a polygon on the plate."""


class LedgerError(ProofkitError, RuntimeError):
    """The ledger cannot be opened, read or written."""


class ClusterError(ProofkitError, RuntimeError):
    """The machines that were to measure cannot be used."""


class ComparisonError(ProofkitError, ValueError):
    """Two states, or a print and its drawing, cannot be compared."""
