"""What has changed since the artist signed the standard."""

from proofkit.folder.edition import Edition
from proofkit.folder.problems import quoted
from proofkit.ledger.keys import regions_digest


def changes_since_signing(edition: Edition, standard: str, scan_sha256: str) -> list[str]:
    """Return a sentence for each thing that is no longer as it was signed; none where nothing was signed.

    Parameters
    ----------
    edition : Edition
    standard : str
        Pull that serves as standard.
    scan_sha256 : str
        Of its scan.
    """
    if not edition.signed:
        return []
    last = edition.signed[-1]
    said = f"signed by {last.by} on {last.on}"
    if last.pull != standard:
        return [f"Pull {quoted(standard)} serves as standard, but pull {quoted(last.pull)} was {said}."]
    changes = []
    if last.scan_sha256 and last.scan_sha256 != scan_sha256:
        changes.append(f"The scan of the standard is another file than the one {said}.")
    if last.regions_sha256 and edition.regions and last.regions_sha256 != regions_digest(edition.regions):
        changes.append(f"The regions are not those that were {said}.")
    return changes
