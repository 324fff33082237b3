"""The sample edition: seventeen pulls of the mill plate, with what went wrong on some of them."""

from pathlib import Path

from tests.simulate.folder import EditionText, ScanKind, make_edition
from tests.simulate.hand import Fault, Pull, ordinary_pull
from tests.simulate.mapping import Crease
from tests.simulate.plates import make_plate

FOLDER_NAME = "mill_below_the_bridge"
SEED = 7
PPI = 600.0
STANDARD = "3"
CONFIRMING = ("4", "5", "6")
KINDS = {"14": ScanKind(rgb=True), "17": ScanKind(bits=16)}
BEVEL_AT_MM = 0.05
"""The copper of this plate has a bevel: its line prints outside the face, so a mark found by it is 0.1 mm larger."""
WARM = (1.0, 0.965, 0.885)
"""Linear red, green, blue of a warm white sheet."""

FAULTS: dict[str, tuple[Fault, ...]] = {
    "1": (Fault("under-inked", 0.6),),
    "7": (Fault("overwiped", 0.85),),
    "9": (Fault("uneven wiping", 0.8, angle_deg=200.0),),
    "10": (Fault("dry paper", 0.5),),
    "11": (Fault("underwiped", 0.7),),
    "12": (Fault("overwiped", 0.35),),
    "13": (Fault("doubled", 0.75, angle_deg=35.0, size_um=170.0),),
    "15": (Fault("crease", 1.0, crease=Crease((66.0, -12.0), (30.0, 40.0), 0.28)),),
    "16": (Fault("uneven wiping", 0.35, angle_deg=70.0),),
}

NOTES: dict[str, dict[str, str]] = {
    "1": {"kind": "trial proof", "note": "first pull of the day, plate still cool"},
    "2": {"kind": "trial proof"},
    "3": {"kind": "bon à tirer", "designation": "bon à tirer", "note": "signed as the standard"},
    "10": {"paper": "rag paper, short soak"},
    "14": {"paper": "rag paper, warm white"},
    "15": {"note": "sheet taken from the bottom of the stack"},
}


def sample_pulls() -> list[Pull]:
    """Return the pulls in order of printing."""
    pulls = []
    for k in range(1, 18):
        number = str(k)
        notes = {
            "kind": "edition", "state": "II", "pulled_on": "2024-03-1" + ("1" if k <= 9 else "2"), "printer": "a",
            "paper": "rag paper, white", "ink": "batch 1", "wiping": "tarlatan, then palm", "pressure": "mark 4",
            "embossing": "clear, even",
        }  # fmt: skip
        notes |= NOTES.get(number, {})
        tint = WARM if number == "14" else (1.0, 1.0, 1.0)
        changes = {"faults": FAULTS.get(number, ()), "notes": notes, "tint": tint, "margin_mm": 8.0}
        pulls.append(ordinary_pull(number, 500 + k, bevel_at_mm=BEVEL_AT_MM, **changes))
    return pulls


def make_sample(folder: Path) -> None:
    """Write the sample edition into `folder`."""
    text = EditionText(
        title="Mill below the stone bridge, etching and drypoint",
        standard=STANDARD,
        confirming=CONFIRMING,
        note="A simulated edition, made by: python -m tests.simulate. What was planted is in truth/.",
    )
    make_edition(folder, make_plate("mill", 1), sample_pulls(), PPI, SEED, text, KINDS)
