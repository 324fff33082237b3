"""Which sheets can be laid beside the standard at all."""

from proofkit.edition import MeasuredEdition
from proofkit.quality import WORDS, Quality, from_words

NOT_COMPARABLE = (Quality.OTHER_PLATE, Quality.MIRRORED, Quality.BLANK, Quality.MISFIT)
"""Flags of a sheet that forbid a comparison with the standard."""

MISFIT_MOST_UM = 250.0
"""Lines farther than this from the standard's cannot be matched in hatching of 4 lines per mm. [µm] Geometry."""


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
    for pull, quality, misfit_um in zip(
        measured.sheets["pull"].astype(str),
        measured.sheets["quality"].fillna("").astype(str),
        measured.sheets["misfit_um"],
        strict=True,
    ):
        flags = from_words(quality)
        hindrance = next((WORDS[flag][1] for flag in NOT_COMPARABLE if flag in flags), "")
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
