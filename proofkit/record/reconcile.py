"""Account for every pull, and say where the papers do not add up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from proofkit.folder.naming import natural_key
from proofkit.record.impressions import Impression
from proofkit.record.kinds import kinds
from proofkit.wording import MOST_LISTED, first_of

ACCOUNTS = (
    "edition", "proof", "working proof", "second", "set aside", "spoiled", "not counted", "not decided", "lost",
)  # fmt: skip

MOST_PER_PULL = 3
"""Numbers that reach beyond so many times the number of pulls are no running numbers but dates or codes. [-]"""


@dataclass(frozen=True, slots=True)
class Account:
    """Pulls that count alike."""

    account: str
    """One of `ACCOUNTS`."""
    kind: str
    """Kind of impression, empty where it is not told or does not matter."""
    pulls: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """Every pull in one account."""

    accounts: tuple[Account, ...]
    open_questions: tuple[str, ...]
    """What does not add up, one sentence each."""

    def count(self, account: str, kind: str | None = None) -> int:
        """Return how many pulls stand in an account, of one kind or of all."""
        return sum(
            len(one.pulls) for one in self.accounts if one.account == account and kind in (None, one.kind)
        )

    @property
    def total(self) -> int:
        """All pulls, lost ones included."""
        return sum(len(one.pulls) for one in self.accounts)


def reconcile(pile: Sequence[Impression], authorised: Mapping[str, int]) -> Reconciliation:
    """Put every pull into exactly one account.

    Parameters
    ----------
    pile : sequence of Impression
        Each pull once.
    authorised : mapping of str to int
        Kind -> how many the artist has fixed; kinds that are not in it have no limit.

    Returns
    -------
    Reconciliation
        The counts add up to all pulls and those lost between the first and the last number.
    """
    lost, said = lost_pulls([one.pull for one in pile])
    groups: dict[tuple[str, str], list[str]] = {}
    for one in pile:
        groups.setdefault(_account(one), []).append(one.pull)
    if lost:
        groups["lost", ""] = list(lost)
    order = {kind.name: place for place, kind in enumerate(kinds())}
    accounts = tuple(
        Account(account, kind, tuple(sorted(pulls, key=natural_key)))
        for (account, kind), pulls in sorted(
            groups.items(), key=lambda item: (ACCOUNTS.index(item[0][0]), order.get(item[0][1], len(order)))
        )
    )
    result = Reconciliation(accounts, ())
    questions = [*said, *_on_counts(result, authorised), *_on_sheets(pile)]
    return Reconciliation(accounts, tuple(questions))


def _account(one: Impression) -> tuple[str, str]:
    name = one.kind.name if one.kind else ""
    if one.kind is not None and one.kind.counted == "never":
        return "not counted", name
    if one.status in ("second", "set aside", "spoiled"):
        return one.status, name
    if one.kind is None:
        return "not decided", ""
    if one.kind.counted == "working":
        return "working proof", name
    is_settled = one.status == "keep" or bool(one.designation.text) or one.kind.name == "bon à tirer"
    if not is_settled:
        return "not decided", name
    return ("edition" if one.kind.counted == "edition" else "proof"), name


def lost_pulls(pulls: Sequence[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the running numbers that no paper names, and why they cannot be told where that is so.

    >>> lost_pulls(["1", "2", "4", "test"])
    (('3',), ())
    """
    numbers = {int(pull) for pull in pulls if pull.isdecimal() and len(pull) < 10}
    if not numbers:
        return (), ("Pulls have no running numbers: whether one was lost cannot be told.",) if pulls else ()
    last = max(numbers)
    if last > MOST_PER_PULL * len(pulls) + 10:
        return (), (
            f"Pull numbers reach {last} for {len(pulls)} pulls: whether one was lost cannot be told.",
        )
    return tuple(str(number) for number in range(1, last) if number not in numbers), ()


def _on_counts(result: Reconciliation, authorised: Mapping[str, int]) -> list[str]:
    said = []
    for account in result.accounts:
        names = ", ".join(account.pulls)
        many = "Pulls" if len(account.pulls) > 1 else "Pull"
        if account.account == "lost":
            said.append(f"{many} {names}: in no paper. Spoiled, given away, or a number left out?")
        elif account.account == "not decided":
            what = (
                f"{account.kind}, nothing was decided"
                if account.kind
                else "no paper tells its kind, or none that is known"
            )
            said.append(f"{many} {names}: {what}.")
        elif account.account == "set aside":
            said.append(f"{many} {names}: set aside, the last word is to be said.")
    for kind, most in authorised.items():
        kept = (
            result.count("edition", kind) + result.count("proof", kind) + result.count("working proof", kind)
        )
        if kept > most:
            said.append(f"{kept} impressions of kind {kind} are kept, authorised are {most}.")
    return said


def _on_sheets(pile: Sequence[Impression]) -> list[str]:
    said = []
    for one in pile:
        marked = one.designation.text
        if marked and one.status in ("second", "spoiled") and not one.destroyed_on:
            said.append(f"Pull {one.pull} carries {marked}, but is {one.status} and not destroyed.")
        elif one.status in ("second", "spoiled") and not one.destroyed_on:
            said.append(f"Pull {one.pull} is {one.status}: destroyed (when?), or kept unsigned and marked?")
        if marked and one.designation.number is None and one.designation.kind is None:
            said.append(f"Pull {one.pull} carries {marked!r}, which is no designation that is known.")
    return [*said, *_on_numbers(pile)]


def _on_numbers(pile: Sequence[Impression]) -> list[str]:
    """Say what is wrong with numbers and totals, kind by kind."""
    series: dict[tuple[str, str], list[Impression]] = {}
    for one in pile:
        if one.designation.number is not None:
            name = one.kind.name if one.kind else "no kind"
            series.setdefault((name, one.designation.numerals), []).append(one)
    said = []
    for (name, numerals), sheets in series.items():
        said += _on_series(name, numerals, sheets)
    return said


def _on_series(name: str, numerals: str, sheets: list[Impression]) -> list[str]:
    said = []
    by_number: dict[int, list[str]] = {}
    for one in sheets:
        by_number.setdefault(one.designation.number or 0, []).append(one.pull)
    said += [
        f"Number {number} of kind {name} is on pulls {' and '.join(pulls)}."
        for number, pulls in sorted(by_number.items())
        if len(pulls) > 1
    ]
    totals = sorted({one.designation.total for one in sheets if one.designation.total is not None})
    if len(totals) > 1:
        said.append(f"Totals written on sheets of kind {name} differ: {', '.join(map(str, totals))}.")
    over = [number for number in by_number if totals and number > totals[-1]]
    if over:
        said.append(f"Number {', '.join(map(str, over))} of kind {name} is beyond the total of {totals[-1]}.")
    missing = [number for number in range(1, totals[-1] + 1) if number not in by_number] if totals else []
    if missing:
        shown = first_of([str(number) for number in missing], MOST_LISTED)
        said.append(f"Of kind {name}, 1 to {totals[-1]}, no sheet carries {shown}.")
    if numerals == "roman" and name in ("no kind", "edition"):
        pulls = ", ".join(one.pull for one in sheets)
        said.append(f"Roman numbers without a kind on {pulls}: proofs, or a second issue? State which use.")
    return said
