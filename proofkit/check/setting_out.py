"""What has to be settled before sheets are measured: the standard, its plate and the regions."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

from proofkit.errors import FrameError, RegionError, ScanError
from proofkit.folder.edition import Edition, Pull, Region
from proofkit.folder.problems import quoted
from proofkit.folder.read import read_edition
from proofkit.folder.regions import check_inside, write_regions
from proofkit.ledger.connection import Ledger
from proofkit.ledger.keys import digest_of, measure_version, regions_digest, setup_digest
from proofkit.ledger.notes import find_choice, find_plate_size, save_choice, save_plate_size, scan_sha256
from proofkit.quality import Quality
from proofkit.scan.fetching import is_there
from proofkit.sheet import Standard, central_pull, make_standard
from proofkit.sheet.laying_down import STRETCH_LIMIT
from proofkit.sheet.reading import frame_on
from proofkit.sheet.standard import plate_size
from proofkit.units import px_per_mm

CROPPED_WITHIN = 0.03
"""A scan this close to the size of the plate is cropped to it: paper dries by up to 2.5 % (common practice). [-]"""

SAME_SHAPE = 0.04
"""Two sizes have one shape up to this: paper dries by 2.5 % more one way at most (common practice). [-]"""


@dataclass(frozen=True, slots=True, eq=False)
class SetOut:
    """An edition of which everything is settled but the measurements."""

    edition: Edition
    """With regions, all of them on the plate."""
    standard_pull: Pull
    is_provisional: bool
    standard_sha256: str
    """Of its scan, as it was read in this run or before."""
    standard_key: str
    """Digest of everything that the standard depends on."""
    plate_mm: tuple[float, float]
    standard: Standard | None
    """None as long as nobody needed it."""


def missing_scans(edition: Edition) -> dict[str, str]:
    """Return the pulls whose scan is not there, with the line that says so."""
    return {
        pull.pull: f"Scan {quoted(pull.scan)} is not in {quoted(edition.folder / 'scans')}. "
        "Put it there, or mend its name in pulls.csv."
        for pull in edition.pulls
        if not is_there(edition, pull)
    }


def choose_standard(edition: Edition, ledger: Ledger, failures: Mapping[str, str]) -> tuple[Pull, bool]:
    """Return the pull that serves as standard, and whether it does so provisionally.

    That is the one that edition.toml names, else the most central of the confirming pulls, else of all pulls.

    Raises
    ------
    ProofkitError
        If no scan can be used.
    """
    by_name = {pull.pull: pull for pull in edition.pulls}
    if edition.standard is not None:
        return by_name[edition.standard], False
    there = [pull for pull in edition.pulls if pull.pull not in failures]
    candidates = [pull for pull in there if pull.pull in edition.confirming] or there
    if len(candidates) == 1:
        return candidates[0], True
    hashes = _hashes(edition, ledger, candidates)
    setup = replace(edition, regions=())
    key = digest_of(
        [measure_version(), [[sha, setup_digest(setup, pull.corners_px)] for sha, pull in hashes.items()]]
    )
    known = find_choice(ledger, key)
    if known in hashes:
        return hashes[known], True
    chosen = by_name[central_pull(edition, list(hashes.values()) or candidates)]
    save_choice(ledger, key, next((sha for sha, pull in hashes.items() if pull is chosen), ""))
    return chosen, True


def _hashes(edition: Edition, ledger: Ledger, pulls: Sequence[Pull]) -> dict[str, Pull]:
    """Return the pulls by the hashes of their scans; one that cannot be read is no candidate."""
    found: dict[str, Pull] = {}
    for pull in pulls:
        with suppress(OSError, ScanError):
            found.setdefault(scan_sha256(ledger, edition, pull), pull)
    return found


def set_out(edition: Edition, ledger: Ledger, standard_pull: Pull, *, is_provisional: bool) -> SetOut:
    """Return the edition with its plate size and its regions, making the standard only if they are not known.

    Regions that had to be proposed are written to regions.csv, and read from there as in every later run.

    Raises
    ------
    ProofkitError
        If the standard's scan cannot be used, shows no plate mark or one of another size than the copper's, or none of
        the regions lies on the plate.
    """
    try:
        sha256 = scan_sha256(ledger, edition, standard_pull)
    except OSError as error:
        raise ScanError(
            f"Scan {quoted(standard_pull.scan)} of the standard cannot be read ({error.strerror}). Make it readable."
        ) from error
    bare = replace(edition, regions=())
    plate_key = digest_of([measure_version(), sha256, setup_digest(bare, standard_pull.corners_px)])
    plate_mm = find_plate_size(ledger, plate_key)
    standard = None
    if plate_mm is None or not edition.regions:
        standard = make_standard(edition, standard_pull)
        check_made_from(standard, sha256, standard_pull)
        _check_mark(edition, standard, standard_pull)
        _check_size(edition, standard, standard_pull)
        plate_mm = (standard.plate_width_mm, standard.plate_height_mm)
        save_plate_size(ledger, plate_key, *plate_mm)
    if standard is not None and not edition.regions:
        edition = _with_proposed(edition, standard.regions)
        if regions_digest(edition.regions) != regions_digest(standard.regions):
            standard = None  # it is made again for the regions as they were written
    kept, messages = check_inside(edition.regions, *plate_mm)
    if messages:
        if not kept:
            raise RegionError("\n".join(messages))
        edition = replace(edition, regions=tuple(kept), remarks=(*edition.remarks, *messages))
        standard = None
    standard_key = digest_of([measure_version(), sha256, setup_digest(edition, standard_pull.corners_px)])
    return SetOut(edition, standard_pull, is_provisional, sha256, standard_key, plate_mm, standard)


def check_made_from(standard: Standard, sha256: str, pull: Pull) -> None:
    """Refuse a standard whose scan was replaced after its hash was taken: it would be kept as the one before.

    Raises
    ------
    ScanError
        In one line.
    """
    if standard.laid is not None and standard.laid.scan.file.sha256 != sha256:
        raise standard_changed(pull)


def standard_changed(pull: Pull) -> ScanError:
    """Return the error for a standard's scan that was replaced in the course of a check."""
    return ScanError(
        f"The standard, pull {quoted(pull.pull)}: scan {quoted(pull.scan)} was changed while it was measured. "
        "Run again when it is complete."
    )


def _check_mark(edition: Edition, standard: Standard, pull: Pull) -> None:
    """Refuse a standard whose plate nobody knows: its whole scan would be taken for the plate.

    A scan that was cropped to the plate may be, when it has the size of the plate in edition.toml.

    Raises
    ------
    FrameError
        If no plate mark was found, no corners were given, and the scan is not of the size of the plate.
    """
    if Quality.NO_PLATE_MARK not in standard.quality or standard.laid is None:
        return
    file = standard.laid.scan.file
    scan_mm = (file.width / px_per_mm(file.ppi_x), file.height / px_per_mm(file.ppi_y))
    plate = ""
    if edition.plate_width_mm is not None and edition.plate_height_mm is not None:
        plate_mm = (edition.plate_width_mm, edition.plate_height_mm)
        if all(
            abs(seen / given - 1) <= CROPPED_WITHIN for seen, given in zip(scan_mm, plate_mm, strict=True)
        ):
            return
        plate = f", and the plate of edition.toml {plate_mm[0]:.1f} x {plate_mm[1]:.1f} mm"
    raise FrameError(
        f"The standard, pull {quoted(pull.pull)}: no plate mark was found on {quoted(pull.scan)}; the whole scan is "
        f"{scan_mm[0]:.1f} x {scan_mm[1]:.1f} mm{plate}. Give the corners of its plate mark in pulls.csv, name another "
        "standard, or crop the scan to the plate and give the size of the plate in edition.toml."
    )


def _check_size(edition: Edition, standard: Standard, pull: Pull) -> None:
    """Refuse a standard on which the plate cannot be as large as edition.toml says: all measures would be wrong.

    The size of the copper leads the eye to lines that lie as far apart, work included. So the mark is also looked for
    without it: one of the plate's shape and another size means that the resolution is wrong.

    Raises
    ------
    FrameError
        If its plate mark is larger or smaller than the copper by more than paper stretches.
    """
    if Quality.NO_PLATE_MARK in standard.quality or standard.laid is None or edition.plate_width_mm is None:
        return
    bare, scan = replace(edition, plate_width_mm=None, plate_height_mm=None), standard.laid.scan
    given = plate_size(edition, standard.corners_px, scan)
    seen = plate_size(bare, standard.corners_px, scan)
    free = frame_on(bare, pull, scan)
    by_itself = seen if free is None else plate_size(bare, free.corners_px, scan)
    across, down = by_itself[0] / given[0], by_itself[1] / given[1]
    if abs(across / down - 1) <= SAME_SHAPE:
        seen = by_itself
    if all(abs(mark / copper - 1) <= STRETCH_LIMIT for mark, copper in zip(seen, given, strict=True)):
        return
    raise FrameError(
        f"The standard, pull {quoted(pull.pull)}: the plate mark on {quoted(pull.scan)} is {seen[0]:.1f} x "
        f"{seen[1]:.1f} mm at {scan.file.ppi_x:.0f} x {scan.file.ppi_y:.0f} ppi, but the plate of edition.toml is "
        f"{given[0]:.1f} x {given[1]:.1f} mm, and paper moves by less than {100 * STRETCH_LIMIT:.0f} %. Mend ppi or "
        "the size of the plate in edition.toml, turn the scan upright, or give the corners of its mark in pulls.csv."
    )


def _with_proposed(edition: Edition, proposed: Sequence[Region]) -> Edition:
    if not proposed:
        raise RegionError(
            "There is no regions.csv, and no line work, tone or open ground was found on the standard to propose "
            "regions from. Draw regions of your own, or choose another standard."
        )
    write_regions(edition.folder, proposed)
    again = read_edition(edition.folder)
    remark = "There was no regions.csv: regions were proposed from the standard and written there."
    return replace(edition, regions=again.regions, remarks=(*edition.remarks, remark))
