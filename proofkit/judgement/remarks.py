"""Say what limits the judgement of an edition, one sentence each."""

import numpy as np

from proofkit.edition import MeasuredEdition
from proofkit.judgement.good_pulls import LEAVING_NAMED, MIN_GOOD, GoodPulls
from proofkit.judgement.limits import FEW_PULLS
from proofkit.judgement.spread import run_limits, spread_bounds
from proofkit.judgement.symptoms import Evidence
from proofkit.judgement.values import Values

DRIFT = 2.0
"""The whole run's spread over the spread from pull to pull, from which a drift is spoken of. [-]"""


def _names(pulls: tuple[str, ...]) -> str:
    return ", ".join(f"'{pull}'" for pull in pulls)


def on_the_standard(measured: MeasuredEdition) -> list[str]:
    """Return what is to be said of the standard and of the confirming pulls named in edition.toml."""
    said: list[str] = []
    if measured.is_provisional:
        said.append(
            f"No standard is named: pull '{measured.standard}', the most central one, serves as provisional standard."
        )
    if len(set(measured.edition.confirming) - {measured.standard}) < MIN_GOOD - 1:
        said.append(
            "Fewer than two confirming pulls besides the standard: the natural spread is taken from those pulls of the "
            "edition that lie nearest to the standard, and all limits are trial limits."
        )
    return said


def _on_good_pulls(values: Values, good: GoodPulls) -> list[str]:
    said: list[str] = []
    count = int(good.good.sum())
    said.append(
        f"{count} of {len(values.pulls)} comparable pulls show the natural spread and set the limits"
        + (", grown from the confirming pulls." if good.from_confirming else ".")
    )
    if count < FEW_PULLS:
        low, high = spread_bounds(1.0, max(count - 1, 1))
        said.append(
            f"With {count} good pulls a spread is itself known only to between {low:.2f} and {high:.1f} times its "
            "value (95 %); the usual spread of a steady printer counts as four more pulls."
        )
    if good.left:
        said.append(
            f"Named as confirming, but unlike the other good pulls: {_names(good.left)}. Look at them first."
        )
    return said


def _on_floors(good: GoodPulls) -> list[str]:
    still = [name for name, fit in good.fits.items() if fit.has_no_spread]
    if not still:
        return []
    return [
        f"Good pulls do not vary at all in {', '.join(still)}: the least spread that is believed stands in."
    ]


def _on_order(evidence: Evidence) -> list[str]:
    said: list[str] = []
    run = evidence.run
    if run.wear:
        said.append(
            "Fine lines fall steadily in the order of pulls, beyond what ink explains: the plate may be wearing."
        )
    if run.burr:
        said.append(
            "Drypoint falls steadily in the order of pulls while other work holds: the burr may be going."
        )
    if run.batch is not None:
        pull = evidence.edition.pulls[run.batch[0]]
        said.append(
            f"From pull '{pull}' on line cores stand at another level ({run.batch[1]:+.2f} D): another mix of ink?"
        )
    film = evidence.good.fits.get("plate_tone_density")
    if film is not None and run.long_enough:
        deviation = film.sheet.deviation[:, 0]
        chosen = deviation[evidence.good.good & np.isfinite(deviation)]
        near = run_limits(chosen).spread
        if chosen.size > 2 and near > 0 and float(chosen.std(ddof=1)) > DRIFT * near:
            said.append(
                f"The film wanders over the run: {float(chosen.std(ddof=1)):.3f} D in all against {near:.3f} D from "
                "pull to pull. Warming plate or loading tarlatan?"
            )
    return said


def remarks(
    measured: MeasuredEdition, values: Values, good: GoodPulls, evidence: Evidence
) -> tuple[str, ...]:
    """Return what limits the judgement, most general first."""
    at = values.pulls.index(measured.standard)
    said = on_the_standard(measured) + _on_good_pulls(values, good)
    if good.sheet_p[at] < LEAVING_NAMED and good.from_confirming:
        said.append("The standard itself does not lie among its confirming pulls: can it be repeated?")
    said += _on_floors(good) + _on_order(evidence)
    if values.relay:
        said.append(
            "Sheets scanned more than once: no spread is taken to be below the scatter between their scans."
        )
    return tuple(said)
