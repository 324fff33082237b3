"""Which sheets can be laid beside the standard at all."""

from proofkit.edition import MeasuredEdition
from proofkit.quality import WORDS, Quality, from_words
from proofkit.wording import first_of

NOT_COMPARABLE = (Quality.OTHER_PLATE, Quality.MIRRORED, Quality.BLANK, Quality.MISFIT)
"""Flags of a sheet that forbid a comparison with the standard."""

MISFIT_MOST_UM = 250.0
"""Lines farther than this from the standard's cannot be matched in hatching of 4 lines per mm. [µm] Geometry."""


PAPER_JUMP_DENSITY = 0.05
"""A margin this much darker than the other sheets' is no other lot of paper, when the ground inside the plate mark
reads lighter by as much and the plate mark was not found all round: then ink was taken for paper. [D] Common practice,
papers of one make keep within 0.02."""

_MARK_IN_DOUBT = Quality.PART_OF_PLATE_MARK | Quality.NO_PLATE_MARK | Quality.LITTLE_MARGIN


def _ink_for_paper(measured: MeasuredEdition) -> dict[str, str]:
    """Return the pulls whose bare paper was not found, with the reason.

    Margin first: all densities stand on it, so a margin that was read on the film of the plate makes a sound sheet
    look overwiped.
    """
    sheets, films = (
        measured.sheets,
        measured.measurements.pivot_table(
            values="plate_tone_density", index="pull", columns="region", aggfunc="mean"
        ),
    )
    if measured.standard not in films.index:
        return {}
    usual = float(sheets.loc[sheets["pull"].isin(films.index), "paper_density"].median())
    change = (films - films.loc[measured.standard]).median(axis=1)
    found: dict[str, str] = {}
    rows = zip(sheets["pull"].astype(str), sheets["quality"].fillna(""), sheets["paper_density"], strict=True)
    for pull, quality, paper in rows:
        jump = float(paper) - usual
        lighter = -float(change.get(pull, 0.0))
        if from_words(str(quality)) & _MARK_IN_DOUBT and jump > PAPER_JUMP_DENSITY and lighter > jump / 2:
            found[pull] = (
                f"bare paper was not found: the margin reads {paper:.2f} D, on other sheets {usual:.2f} D, and the "
                "ground lighter by as much. Scan with more margin, or give the corners in pulls.csv"
            )
    return found


APART = (Quality.OUTSIDE_SHEET, Quality.MISFIT, Quality.PITCH_DOUBT)
"""Flags of a region on a sheet that forbid a comparison there, or allow it in part only."""

MOST_REGIONS_TOLD = 6


def regions_apart(measured: MeasuredEdition) -> dict[str, str]:
    """Return the regions that could not be compared on a pull, in words; pulls without any are left out."""
    found: dict[str, list[str]] = {}
    rows = measured.measurements
    for pull, region, quality in zip(
        rows["pull"].astype(str),
        rows["region"].astype(str),
        rows["quality"].fillna("").astype(str),
        strict=True,
    ):
        flags = from_words(quality)
        why = [WORDS[flag][0] for flag in APART if flag in flags]
        if why:
            found.setdefault(pull, []).append(f"'{region}' ({', '.join(why)})")
    measured_on = rows.groupby("pull")["region"].agg(set).to_dict()
    for pull in rows["pull"].astype(str).unique():
        missing = [one.name for one in measured.regions if one.name not in measured_on[pull]]
        found.setdefault(pull, []).extend(f"'{name}' (not measured)" for name in missing)
    return {pull: first_of(texts, MOST_REGIONS_TOLD) for pull, texts in found.items() if texts}


def pulls_in_order(measured: MeasuredEdition) -> tuple[str, ...]:
    """Return the pulls of the edition in order of pulling, each once."""
    named = [pull.pull for pull in measured.edition.pulls]
    known = [*named, *measured.sheets["pull"].astype(str), *measured.failures]
    return tuple(dict.fromkeys(known))


def obstacles(measured: MeasuredEdition) -> dict[str, str]:
    """Return why pulls cannot be compared with the standard.

    Parameters
    ----------
    measured : MeasuredEdition

    Returns
    -------
    dict of str to str
        Pull -> one sentence. A pull of which one scan is good can be compared.
    """
    reasons: dict[str, str] = {}
    fit: set[str] = set()
    ink_for_paper = _ink_for_paper(measured)
    for pull, quality, misfit_um in zip(
        measured.sheets["pull"].astype(str),
        measured.sheets["quality"].fillna("").astype(str),
        measured.sheets["misfit_um"],
        strict=True,
    ):
        flags = from_words(quality)
        hindrance = next(
            (WORDS[flag][1] for flag in NOT_COMPARABLE if flag in flags), ink_for_paper.get(pull, "")
        )
        if not hindrance and misfit_um > MISFIT_MOST_UM:
            hindrance = (
                f"its lines lie {misfit_um:.0f} µm from the standard's, more than {MISFIT_MOST_UM:.0f} µm"
            )
        if hindrance and pull != measured.standard:
            reasons[pull] = f"Not comparable: {hindrance}."
        else:
            fit.add(pull)
    for pull, why in measured.failures.items():
        reasons.setdefault(pull, f"Not comparable: {why}")
    for pull in pulls_in_order(measured):
        if pull not in fit:
            reasons.setdefault(pull, "Not comparable: the sheet was not measured.")
    return {pull: why for pull, why in reasons.items() if pull not in fit}
