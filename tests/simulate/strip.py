"""The sample study: a step-bite strip in two baths, with a patch of grain that was bitten in a tipped one.

Remake it with ``python -m tests.simulate.strip [FOLDER]``, from the root of the checkout.
"""

import argparse
import sys
from pathlib import Path

import numpy as np
import pandas as pd
from shapely.geometry import Polygon, box

from tests.simulate.drawing import Needle, arc_guide, grain, hatch, outline_stroke
from tests.simulate.folder import EditionText, make_edition
from tests.simulate.hand import ordinary_pull
from tests.simulate.plate import Plate, PlateRegion, Stroke

FOLDER_NAME = "reed_steps"
SEED = 21
PPI = 400.0
TIMES_MIN = (3, 6, 12, 24, 48)
WARM_SPEED = 1.5
"""How many times as fast the warm bath bites."""
EXPONENT = 0.4
"""Groove width goes with this power of time."""
GROOVE_AT_ONE_UM = 26.0
"""Groove of a line that was one minute in the cool bath. [µm]"""
TIPPED_TONE_PER_MM = 0.010
"""How much denser the grain gets per mm to the right: the bath stood lower there. [1/mm]"""

STUDY = """\
question = "Does the warm bath bite faster, and did the tray stand level?"
responses = ["line_load_um", "tone_fraction"]
relative = ["line_load_um"]

[factors.bite_min]
scale = "log"
label = "time in the bath"

[factors.bath]
reference = "cool"

[step_bite]
time = "bite_min"
bath = "bath"

[tipped_bath]
regions = ["cloth"]

[methods]
plate = "copper, simulated, 46 x 34 mm"
tool = "hard ground, ferric chloride, stopped out step by step; soft ground with cloth"
glare = "none needed: simulated"
days_since_pull = "none: simulated"
"""


def _field(row: int, step: int) -> Polygon:
    x, y = 2.0 + 8.5 * step, 2.0 + 10.5 * row
    return Polygon([(x, y + 0.3), (x + 7.3, y), (x + 7.2, y + 8.8), (x + 0.2, y + 9.0)])


def _reeds(rng: np.random.Generator) -> list[Stroke]:
    """Return a few reeds between the rows and the cloth, so that the plate cannot be taken for its mirror image."""
    strokes = []
    for k in range(7):
        t = np.linspace(0, 1, 30)
        x = 30.0 + 1.6 * k + 2.2 * t**2 * rng.uniform(0.4, 1.0) + 0.3 * np.sin(5 * t + k)
        y = 32.4 - 9.0 * t * rng.uniform(0.75, 1.0)
        strokes.append(outline_stroke(np.stack((x, y), axis=1), Needle(70, 0.8, "burin", swell=0.4), rng))
    return strokes


def make_strip_plate(seed: int) -> Plate:
    """Return a plate with five steps in each of two baths, a patch of cloth grain and some reeds."""
    rng = np.random.default_rng(seed)
    strokes: list[Stroke] = []
    regions: list[PlateRegion] = []
    for row, (bath, speed) in enumerate((("cool", 1.0), ("warm", WARM_SPEED))):
        for step, minutes in enumerate(TIMES_MIN):
            outline = _field(row, step)
            groove = GROOVE_AT_ONE_UM * (minutes * speed) ** EXPONENT
            depth = float(np.clip(0.12 * (minutes * speed) ** EXPONENT, 0.05, 1.0))
            guide = arc_guide(outline, 20 + 9 * step - 60 * row, 0.04)
            strokes += hatch(outline, guide, 0.52, Needle(groove, depth, swell=0.1), rng)
            regions.append(PlateRegion(f"{bath} {minutes}", "lines", outline.buffer(-0.5)))
    cloth = box(2.5, 23.5, 28.0, 32.0)
    strokes += grain(
        cloth, 34, rng, tone=lambda at: 0.45 + TIPPED_TONE_PER_MM * (at[:, 0] - 15.0), size_um=70
    )
    strokes += _reeds(rng)
    regions.append(PlateRegion("cloth", "tone", cloth.buffer(-0.5)))
    return Plate("Reed steps, a test plate", 46.0, 34.0, tuple(strokes), tuple(regions))


def make_sample_study(folder: Path) -> None:
    """Write the sample study into `folder`: an edition of four pulls, experiment.csv and study.toml."""
    notes = {
        "kind": "trial proof", "pulled_on": "2024-04-02", "printer": "a", "paper": "rag paper, white", "ink": "batch 3",
        "wiping": "tarlatan, then palm", "pressure": "mark 4",
    }  # fmt: skip
    pulls = [ordinary_pull(str(k), 700 + k, notes=notes, margin_mm=7.0) for k in range(1, 5)]
    text = EditionText(
        title="Reed steps, a test plate",
        standard="2",
        note="A simulated study, made by: python -m tests.simulate.strip. What was planted is in truth/.",
    )
    make_edition(folder, make_strip_plate(1), pulls, PPI, SEED, text)
    rows = [
        {"region": f"{bath} {minutes}", "bite_min": minutes, "bath": bath}
        for bath in ("cool", "warm")
        for minutes in TIMES_MIN
    ]
    pd.DataFrame(rows).to_csv(folder / "experiment.csv", index=False)
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")


def main(arguments: list[str]) -> None:
    """Write the sample study where the arguments say."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.simulate.strip",
        description="Remake the sample study: simulated scans of a step-bite strip, and the truth in truth/. "
        "The same code makes the same files.",
    )
    default = Path("sample_scans") / FOLDER_NAME
    parser.add_argument(
        "folder", nargs="?", type=Path, default=default, help=f"where to write (default: {default})"
    )
    folder = parser.parse_args(arguments).folder
    make_sample_study(folder)
    print(f"Wrote {folder}")


if __name__ == "__main__":
    main(sys.argv[1:])
