"""The trial proofs of the cove plate: three recipes, a proof of each by three candidates, and what confirms them."""

from dataclasses import replace
from pathlib import Path

from tests.simulate.folder import EditionText, make_edition
from tests.simulate.hand import Fault, Pull, ordinary_pull
from tests.simulate.plates import make_plate

FOLDER_NAME = "boat_in_the_cove"
SEED = 23
PPI = 400.0
FILM_DENSITY = 0.045
"""Film of `ordinary_pull` before its variation. [D]"""

RECIPES: dict[str, tuple[dict[str, str], float, float, tuple[Fault, ...]]] = {
    "clean": ({"ink": "stiff", "wiping": "tarlatan, palm, chalked palm"}, 0.015, 0.97, ()),
    "veiled": ({"ink": "stiff", "wiping": "tarlatan, palm once"}, 0.045, 1.0, ()),
    "rich": ({"ink": "soft", "wiping": "tarlatan only"}, 0.095, 1.04, (Fault("clogged hatching", 0.35),)),
}
"""Name -> cells of pulls.csv, film [D], ink fill, and what the recipe does to dense work."""

ORDER = ("clean", "veiled", "rich", "veiled", "veiled", "clean", "clean", "veiled")
"""Recipe of each pull: the first three are the candidates; of the rich one there is no second."""

WISHES = """
# What the artist wants of each region; see README.md for the words.
[wishes]
sky = "clean"
sail = "a breath of tone"
hull = ["darks open", { want = "darks full", weight = 2 }]
headland = "delicate"
"""


def trial_pulls() -> list[Pull]:
    """Return the pulls in order of printing."""
    pulls = []
    for k, name in enumerate(ORDER, start=1):
        cells, film, ink, faults = RECIPES[name]
        notes = {
            "kind": "trial proof", "state": "III", "pulled_on": "2024-04-09",
            "printer": "b",
            "paper": "rag paper, white", "pressure": "mark 3", "embossing": "clear, even", **cells,
        }  # fmt: skip
        pull = ordinary_pull(str(k), 900 + k, notes=notes, margin_mm=8.0, faults=faults)
        pulls.append(
            replace(
                pull, film_density=max(pull.film_density - FILM_DENSITY + film, 0.004), ink=pull.ink * ink
            )
        )
    return pulls


def make_trial_sample(folder: Path) -> None:
    """Write the trial proofs into `folder`."""
    text = EditionText(
        title="Boat in the cove, etching, third state",
        standard=None,
        note="Simulated trial proofs, made by: python -m tests.simulate --trial. What was planted is in truth/.",
    )
    make_edition(folder, make_plate("cove", 1), trial_pulls(), PPI, SEED, text)
    settings = folder / "edition.toml"
    settings.write_text(settings.read_text(encoding="utf-8") + WISHES, encoding="utf-8")
