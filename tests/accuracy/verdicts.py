"""Whether faulty sheets are found, sound ones left alone, and causes named rightly."""

from __future__ import annotations

import pandas as pd
from scipy import stats

from tests.accuracy.neighbours import is_right
from tests.accuracy.rows import Row
from tests.accuracy.tables import Checked

FOUND = 0.95
NAMED = 0.85
FALSE = 0.02

STRENGTHS = ((0.8, 1.0, "full strength", 0.97, 0.90), (0.5, 0.8, "60 % of their strength", 0.85, 0.75))
"""Faults from and up to which strength -> least share found, least share named rightly or by an honest neighbour."""

CREEPING = ("plate wear", "burr loss", "ink batch")
"""Causes that run over many pulls; they are judged from their course, not sheet by sheet."""


def fault_table(editions: list[Checked]) -> pd.DataFrame:
    """Return one row per faulty pull: what was wrong, the verdict and the causes named."""
    rows = []
    for checked in editions:
        for pull in checked.faulty:
            true = checked.true_pulls.loc[pull]
            given = checked.judgement.loc[pull] if pull in checked.judgement.index else None
            verdict = "" if given is None else given["verdict"]
            causes = "" if given is None else given["causes"]
            first = causes.split("; ")[0]
            # A scan that was made otherwise may be set aside as not comparable: nothing is said about the print.
            found = verdict == "look again" or (true["cause"] == "scan" and verdict == "not comparable")
            named = found and (
                is_right(first, true["cause"], true["second_cause"]) or verdict == "not comparable"
            )
            rows.append(
                {
                    "edition": checked.edition.folder.name, "pull": pull, "cause": true["cause"],
                    "second": true["second_cause"], "strength": true["strength"], "verdict": verdict,
                    "causes": causes, "found": found, "named": named, "exact": found and first == true["cause"],
                }
            )  # fmt: skip
    columns = [
        "edition",
        "pull",
        "cause",
        "second",
        "strength",
        "verdict",
        "causes",
        "found",
        "named",
        "exact",
    ]
    kinds = dict.fromkeys(("found", "named", "exact"), bool)
    return pd.DataFrame(rows, columns=columns).astype(kinds)


def false_table(editions: list[Checked]) -> pd.DataFrame:
    """Return one row per sound pull that is no standard: verdict and causes."""
    rows = []
    for checked in editions:
        fault_free = not any(checked.true_pulls["cause"])
        for pull in checked.sound:
            if pull == checked.standard or pull not in checked.judgement.index:
                continue
            given = checked.judgement.loc[pull]
            rows.append(
                {"edition": checked.edition.folder.name, "pull": pull, "verdict": given["verdict"],
                 "causes": given["causes"], "regions": given["regions"], "fault_free": fault_free}
            )  # fmt: skip
    columns = ["edition", "pull", "verdict", "causes", "regions", "fault_free"]
    # Without a row the flag would have no type, and could choose none.
    return pd.DataFrame(rows, columns=columns).astype({"fault_free": bool})


def verdict_rows(faults: pd.DataFrame, sound: pd.DataFrame) -> list[Row]:
    """Return the rows on verdicts and causes."""
    rows = []
    single = faults[~faults["cause"].isin(CREEPING)]
    creeping = faults[faults["cause"].isin(CREEPING)]
    for label, part, bars in (("faults of one pull", single, True), ("creeping faults", creeping, False)):
        n = len(part)
        for what, column, bar in (
            ("found (look again)", "found", FOUND),
            ("cause first right or honest neighbour", "named", NAMED),
            ("cause first exactly right", "exact", None),
        ):
            share = 100 * float(part[column].mean()) if n else float("nan")
            rows.append(Row(f"{label}: {what}", share, "%", 100 * bar if bars and bar else None, ">=", n))
    for least, most, label, found, named in STRENGTHS:
        part = single[(single["strength"] > least) & (single["strength"] <= most)]
        n = len(part)
        for what, column, bar in (
            ("found", "found", found),
            ("cause first right or neighbour", "named", named),
        ):
            share = 100 * float(part[column].mean()) if n else float("nan")
            rows.append(Row(f"faults of {label}: {what}", share, "%", 100 * bar if n else None, ">=", n))
    flagged = sound["verdict"] != "matches"
    share = 100 * float(flagged.mean()) if len(sound) else float("nan")
    rows.append(Row("sound sheets not called a match", share, "%", 100 * FALSE, "<=", len(sound)))
    free = sound[sound["fault_free"]]
    flags = int((free["verdict"] != "matches").sum())
    # Most flags that chance gives in 95 of 100 such piles, at the allowed rate.
    allowed = float(stats.binom.ppf(0.95, len(free), FALSE)) if len(free) else 0.0
    rows.append(Row("flags in editions without faults", flags, "", allowed, "<=", len(free)))
    return rows


def by_cause(faults: pd.DataFrame) -> pd.DataFrame:
    """Return how often each cause was found and named, with what was named instead."""
    rows = []
    for cause, part in faults.groupby("cause"):
        firsts = part["causes"].str.split("; ").str[0].where(part["found"], "(missed)")
        rows.append(
            {
                "cause": cause, "n": len(part), "found": int(part["found"].sum()), "named": int(part["named"].sum()),
                "exact": int(part["exact"].sum()),
                "named first": ", ".join(f"{k} {v}" for k, v in firsts.value_counts().items()),
            }
        )  # fmt: skip
    return pd.DataFrame(rows, columns=["cause", "n", "found", "named", "exact", "named first"])
