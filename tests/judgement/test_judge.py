"""Whole editions from the small press in `press.py`."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from proofkit.columns import CAUSES, FINDINGS, JUDGEMENT, VERDICTS, names
from proofkit.folder.edition import Tolerance
from proofkit.judgement.chance import FALSE_DISCOVERY_RATE
from proofkit.judgement.judge import judge
from proofkit.quality import Quality, words
from proofkit.report.sentences import summary
from tests.judgement.press import FAULTS, REGIONS, print_edition, verdicts

ONE_OF_EACH = [*FAULTS, *[None] * 12]


@pytest.fixture(scope="module")
def mixed():
    """Fourteen faults of full strength among sixteen good pulls."""
    return judge(print_edition(ONE_OF_EACH, seed=11))


def test_faults_are_flagged_and_named(mixed):
    given = verdicts(mixed)
    for number, fault in enumerate(FAULTS, start=5):
        verdict, causes = given[str(number)]
        assert verdict == "look again", fault
        assert causes[0] == fault


def test_good_pulls_of_the_same_pile_are_left_alone(mixed):
    given = verdicts(mixed)
    assert given["1"][0] == "standard"
    good = [given[str(number)][0] for number in (2, 3, 4, *range(5 + len(FAULTS), 5 + len(ONE_OF_EACH)))]
    assert good.count("look again") <= 1


def test_tables_keep_to_their_columns(mixed):
    assert list(mixed.findings.columns) == names(FINDINGS)
    assert list(mixed.judgement.columns) == names(JUDGEMENT)
    assert set(mixed.judgement["verdict"]) <= set(VERDICTS)
    named = {cause for text in mixed.judgement["causes"] for cause in text.split("; ") if cause}
    assert named <= set(CAUSES)
    assert mixed.expected_false <= FALSE_DISCOVERY_RATE * len(mixed.findings)


def test_findings_belong_to_flagged_sheets_and_flagged_sheets_have_findings(mixed):
    flagged = set(mixed.judgement.loc[mixed.judgement["verdict"] == "look again", "pull"])
    assert set(mixed.findings["pull"]) == flagged


def test_findings_lie_outside_the_floor_of_what_matters(mixed):
    load = mixed.findings[mixed.findings["measure"] == "line_load_um"]
    assert len(load)
    assert (np.abs(load["value"] / load["standard_value"] - 1) > 0.02).all()


def test_reasons_open_with_the_plain_word(mixed):
    reasons = mixed.judgement.set_index("pull")["reason"]
    number = {fault: str(index) for index, fault in enumerate(FAULTS, start=5)}
    assert reasons[number["under-inked"]].startswith("Weak: ")
    assert reasons[number["low pressure"]].startswith("Weak: ")
    assert "film" in reasons[number["underwiped"]]
    for text in reasons:
        assert "reject" not in text.lower()
        assert text.endswith((".", "?"))


def test_a_fall_of_lines_is_called_weak_and_a_fall_of_film_overwiped(mixed):
    by_measure = mixed.findings[mixed.findings["deviation"] < 0].groupby("measure")["direction"].unique()
    assert by_measure["line_load_um"].tolist() == ["lower (weak)"]
    assert by_measure["plate_tone_density"].tolist() == ["lower (overwiped)"]


@pytest.mark.slow
def test_hand_variation_of_good_editions_is_not_flagged():
    # 12 editions of 24 good pulls: at most 2 % of them may be flagged, within the chance of that count.
    flagged = total = 0
    for seed in range(12):
        given = verdicts(judge(print_edition([None] * 20, seed=100 + seed, pictures=False)))
        flagged += sum(verdict == "look again" for verdict, _ in given.values())
        total += len(given) - 1
    assert flagged <= 0.02 * total + 2 * np.sqrt(0.02 * total)


def test_half_a_pile_of_one_fault_does_not_hide_itself():
    given = verdicts(judge(print_edition(["low pressure"] * 12 + [None] * 8, seed=5)))
    assert [given[str(number)][0] for number in range(5, 17)] == ["look again"] * 12
    assert [given[str(number)][0] for number in range(17, 25)].count("look again") == 0


def test_without_confirming_pulls_limits_are_trial_and_faults_still_stand_out():
    judged = judge(print_edition([*FAULTS, *[None] * 15], seed=6, confirming=0))
    given = verdicts(judged)
    found = sum(given[str(number)][0] == "look again" for number in range(2, 2 + len(FAULTS)))
    assert found >= len(FAULTS) - 1
    assert judged.limits["is_trial"].all()
    assert any("trial limits" in remark for remark in judged.remarks)


def test_a_clean_wiped_standard_is_told_as_a_blind_spot():
    measured = print_edition([*["low pressure"] * 4, *[None] * 12], seed=7, film=0.006)
    pulls = tuple(replace(pull, notes={}) for pull in measured.edition.pulls)
    judged = judge(replace(measured, edition=replace(measured.edition, pulls=pulls)))
    rows = judged.judgement.set_index("pull").loc[["5", "6", "7", "8"]]
    flagged = rows[rows["verdict"] == "look again"]
    assert len(flagged) >= 2
    assert flagged["reason"].str.contains("film cannot fall").all()
    assert flagged["reason"].str.contains("embossing").all()


def test_two_faults_on_one_sheet_are_both_named():
    given = verdicts(judge(print_edition([("bevel ink", "underwiped"), *[None] * 12], seed=8)))
    assert set(given["5"][1][:2]) == {"bevel ink", "underwiped"}


def test_a_worn_plate_is_told_from_order():
    judged = judge(print_edition([None] * 26, seed=9, wear=0.35))
    last = verdicts(judged)["30"]
    assert last[0] == "look again"
    assert last[1][0] == "plate wear"
    assert any("wearing" in remark for remark in judged.remarks)


def test_the_printers_tolerance_overrides_statistics():
    plan = ["underwiped", *[None] * 12]
    wide = [Tolerance("*", "plate_tone_density", 1.0), Tolerance("*", "tone_distance_density", 1.0)]
    narrow = [Tolerance("sky", "plate_tone_density", 0.0005)]
    findings = judge(print_edition(plan, seed=10, tolerances=wide)).findings
    assert not findings["measure"].isin(["plate_tone_density", "tone_distance_density"]).any()
    judged = judge(print_edition(plan, seed=10, tolerances=narrow))
    own = judged.findings[judged.findings["q_value"].isna()]
    assert set(own["region"]) == {"sky"}
    assert len(own) > 8
    limit = judged.limits[
        (judged.limits["region"] == "sky") & (judged.limits["measure"] == "plate_tone_density")
    ]
    assert limit["source"].tolist() == ["printer"]
    assert (limit["upper"] - limit["lower"]).tolist() == pytest.approx([0.001])


def test_watched_regions_come_first():
    judged = judge(print_edition(["underwiped", *[None] * 12], seed=10, watched=["meadow"]))
    row = judged.judgement.set_index("pull").loc["5"]
    assert row["regions"].split("; ")[0] == "meadow"
    assert row["reason"].startswith("Watched: meadow")


def test_a_varied_edition_gets_distances_and_no_flags():
    judged = judge(print_edition([*FAULTS], seed=1, declared="varied"))
    assert judged.findings.empty
    assert set(judged.judgement["verdict"]) == {"standard", "matches"}
    row = judged.judgement.set_index("pull").loc["5"]
    assert "varied" in row["reason"]
    assert "line_load_um" in row["reason"] or "continuity" in row["reason"]


@pytest.mark.parametrize("confirming", [0, 1])
def test_one_or_two_sheets_get_words_and_no_statistics(confirming):
    judged = judge(print_edition([], confirming=confirming))
    assert judged.findings.empty
    assert judged.limits.empty
    assert any("at least 3" in remark for remark in judged.remarks)
    assert judged.judgement["verdict"].tolist()[0] == "standard"


def test_two_sheets_that_differ_ask_for_a_look():
    measured = print_edition(["underwiped"], confirming=0)
    judged = judge(measured)
    row = judged.judgement.set_index("pull").loc["2"]
    assert row["verdict"] == "look again"
    assert "Too few pulls" in row["reason"]
    # Distances carry their unit, and nothing is said of a spread or limits that there are not.
    assert re.search(r"plate_tone_density \+0\.\d+ D in '", row["reason"])
    assert not any("limits" in remark for remark in judged.remarks)
    assert "The other one does not match it in all that matters." in summary(measured, judged)


@pytest.mark.parametrize("flag", [Quality.OTHER_PLATE, Quality.MIRRORED, Quality.BLANK, Quality.MISFIT])
def test_what_cannot_be_laid_on_the_standard_is_not_compared(flag):
    measured = print_edition([None] * 6, seed=2, pictures=False)
    sheets = measured.sheets.copy()
    sheets.loc[sheets["pull"] == "6", "quality"] = words(flag)
    judged = judge(replace(measured, sheets=sheets))
    row = judged.judgement.set_index("pull").loc["6"]
    assert row["verdict"] == "not comparable"
    assert row["reason"].startswith("Not comparable: ")


def test_a_sheet_whose_paper_was_read_on_ink_is_not_called_overwiped():
    # The margin was taken inside the plate mark: 0.10 D of film count as paper, so the film seems gone.
    measured = print_edition([None] * 8, seed=2, film=0.10, pictures=False)
    sheets, table = measured.sheets.copy(), measured.measurements.copy()
    sheets.loc[sheets["pull"] == "6", ["paper_density", "quality"]] = [
        0.16,
        words(Quality.PART_OF_PLATE_MARK),
    ]
    table.loc[table["pull"] == "6", ["plate_tone_density", "ground_between_lines_density"]] -= 0.10
    row = judge(replace(measured, sheets=sheets, measurements=table)).judgement.set_index("pull").loc["6"]
    assert row["verdict"] == "not comparable"
    assert "bare paper was not found" in row["reason"]
    sheets.loc[sheets["pull"] == "6", "quality"] = ""
    row = judge(replace(measured, sheets=sheets, measurements=table)).judgement.set_index("pull").loc["6"]
    assert row["verdict"] == "look again"


def test_failed_scans_are_listed_in_order():
    measured = print_edition([None] * 6, seed=2, pictures=False)
    kept = {name: table[table["pull"] != "6"] for name, table in
            {"measurements": measured.measurements, "sheets": measured.sheets}.items()}  # fmt: skip
    judged = judge(replace(measured, **kept, failures={"6": "The file ends too early."}))
    assert judged.judgement["pull"].tolist() == [str(number) for number in range(1, 11)]
    row = judged.judgement.set_index("pull").loc["6"]
    assert (row["verdict"], "ends too early" in row["reason"]) == ("not comparable", True)


def test_a_bad_confirming_pull_is_told_and_does_not_spoil_the_spread():
    measured = print_edition([*[None] * 10, "underwiped"], seed=3, pictures=False)
    named = replace(measured.edition, confirming=(*measured.edition.confirming, "15"))
    judged, plain = judge(replace(measured, edition=named)), judge(measured)
    assert any("unlike the other good pulls: '15'" in remark for remark in judged.remarks)
    spreads = [
        float(one.limits.query("region == 'sheet' and measure == 'plate_tone_density'")["spread"].iloc[0])
        for one in (judged, plain)
    ]
    assert spreads[0] == pytest.approx(spreads[1], rel=0.2)


def test_empty_measures_are_no_findings():
    measured = print_edition([None] * 8, seed=4, pictures=False)
    table = measured.measurements.copy()
    table[[column for column in table.columns if "line" in column or "hatch" in column]] = np.nan
    judged = judge(replace(measured, measurements=table))
    assert not judged.findings["measure"].str.contains("line").any()
    assert set(judged.judgement["verdict"]) <= {"standard", "matches"}


def test_nothing_measured_at_all_is_said():
    measured = print_edition([None] * 4, pictures=False)
    judged = judge(
        replace(measured, measurements=measured.measurements.iloc[:0], sheets=measured.sheets.iloc[:0])
    )
    assert set(judged.judgement["verdict"]) == {"not comparable"}


def test_two_scans_of_a_pull_count_once_and_tell_the_scanners_scatter():
    measured = print_edition([None] * 8, seed=4, pictures=False)
    again = measured.measurements[measured.measurements["pull"].isin(["2", "3"])].copy()
    again["plate_tone_density"] += 0.03
    more = pd.concat([measured.measurements, again], ignore_index=True)
    sheets = pd.concat(
        [measured.sheets, measured.sheets[measured.sheets["pull"].isin(["2", "3"])]], ignore_index=True
    )
    judged = judge(replace(measured, measurements=more, sheets=sheets))
    assert judged.judgement["pull"].is_unique
    limit = judged.limits[
        (judged.limits["region"] == "sheet") & (judged.limits["measure"] == "plate_tone_density")
    ]
    # Two readings 0.03 D apart have a standard deviation of 0.03/sqrt(2).
    assert float(limit["spread"].iloc[0]) >= 0.03 / np.sqrt(2) - 1e-9


def test_the_order_of_regions_is_moot():
    plan = ["clogged hatching", None, None, None, None, None]
    one = judge(print_edition(plan, seed=12, pictures=False))
    measured = print_edition(plan, seed=12, pictures=False)
    turned = replace(
        measured,
        regions=measured.regions[::-1],
        measurements=measured.measurements.iloc[::-1].reset_index(drop=True),
    )
    other = judge(turned)
    pd.testing.assert_frame_equal(one.judgement, other.judgement)


def test_judging_changes_nothing_it_is_given():
    measured = print_edition([None] * 5, pictures=False)
    before = measured.measurements.copy()
    judge(measured)
    pd.testing.assert_frame_equal(measured.measurements, before)


def test_a_plate_of_one_region_is_judged():
    one = print_edition(["underwiped", *[None] * 10], seed=1, pictures=False, regions=REGIONS[:1])
    assert verdicts(judge(one))["5"][0] == "look again"


@pytest.mark.parametrize(
    ("film", "wave", "first"), [(0.1, 0.018, "underwiped"), (0.01, 0.06, "uneven wiping")]
)
def test_a_thick_film_may_be_uneven_by_a_little(monkeypatch, film, wave, first):
    def dirty(rng, s):
        s.film, s.film_wave, s.load, s.width = film, wave, 1.0 + film / 3, 1.0 + film / 3

    monkeypatch.setitem(FAULTS, "dirty", dirty)
    judged = judge(print_edition([*[None] * 9, "dirty"], seed=3)).judgement
    (row,) = judged.loc[judged["pull"] == "14"].to_dict("records")
    assert row["causes"].split("; ")[0] == first, row["reason"]
    assert ("patchy" in row["reason"]) == (first == "uneven wiping")


def test_a_measure_that_only_one_sheet_has_is_left_out_quietly():
    """Lines too fine for their width but on one sheet of thick ink, say: the other measures tell."""
    edition = print_edition(["under-inked", "low pressure", *[None] * 6], seed=3)
    edition.measurements.loc[edition.measurements["pull"] != "6", "line_width_um"] = np.nan
    given = verdicts(judge(edition))
    assert given["5"][0] == given["6"][0] == "look again"


def test_a_region_that_only_its_own_sheet_makes_stand_out_says_so():
    # One sheet is wiped thinner than the others but for the sky, which is a little darker than usual.
    measured = print_edition([None] * 12, seed=3)
    table = measured.measurements
    own, sky = table["pull"] == "8", table["region"] == "sky"
    film = table["plate_tone_density"] - 0.03 * (own & ~sky) + 0.018 * (own & sky)
    found = judge(replace(measured, measurements=table.assign(plate_tone_density=film))).findings
    of_film = found[(found["measure"] == "plate_tone_density") & (found["pull"] == "8")].set_index("region")
    assert of_film.loc["sky", "direction"] == "higher, for this sheet"
    others = film[~own & sky]
    assert abs(of_film.loc["sky", "value"] - others.mean()) < 3 * others.std()
    assert of_film.loc["sky", "deviation"] > 3
    # A film that no good pull has is told as before.
    thick = table["plate_tone_density"] + 0.06 * (own & sky)
    found = judge(replace(measured, measurements=table.assign(plate_tone_density=thick))).findings
    assert set(found.loc[found["measure"] == "plate_tone_density", "direction"]) == {"higher"}
