"""The smallest change that would be flagged: the claim is tried on sheets that are changed by so much."""

import numpy as np
import pytest

from proofkit.judgement.judge import judge
from tests.judgement.press import print_edition, verdicts


def with_more_film(measured, pull, density):
    table = measured.measurements.copy()
    table.loc[table["pull"] == pull, "plate_tone_density"] += density
    return type(measured)(
        **{name: getattr(measured, name) for name in measured.__dataclass_fields__} | {"measurements": table}
    )


@pytest.mark.slow
def test_changes_of_the_size_told_are_flagged_and_much_smaller_ones_are_not():
    measured = print_edition([None] * 16, seed=41, pictures=False)
    power = judge(measured).power.set_index(["measure", "place"])["smallest"]
    smallest = float(power["plate_tone_density", "sheet"])
    assert 0.02 < smallest < 0.08
    tried = [str(number) for number in range(5, 13)]
    flagged = {
        size: sum(
            verdicts(judge(with_more_film(measured, pull, size * smallest)))[pull][0] == "look again"
            for pull in tried
        )
        for size in (1.15, 0.4)
    }
    assert flagged[1.15] >= 7
    assert flagged[0.4] <= 1


def test_a_restless_hand_hides_larger_changes():
    calm = judge(print_edition([None] * 14, seed=42, pictures=False))
    restless = print_edition([None] * 14, seed=42, pictures=False)
    rng = np.random.default_rng(1)
    extra = {pull.pull: rng.normal(0, 0.03) for pull in restless.edition.pulls}
    restless.measurements["plate_tone_density"] += restless.measurements["pull"].map(extra)
    sizes = [
        float(judged.power.set_index(["measure", "place"])["smallest"]["plate_tone_density", "sheet"])
        for judged in (calm, judge(restless))
    ]
    assert sizes[1] > 1.5 * sizes[0]


def test_too_few_good_pulls_have_no_such_table():
    assert judge(print_edition([None], confirming=1, pictures=False)).power.empty
