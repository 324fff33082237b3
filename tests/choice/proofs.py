"""Trial proofs whose numbers are given outright: film in the sky and ground in the hull are all that differs."""

import numpy as np

from proofkit.columns import MEASUREMENTS, SHEETS, make_table
from proofkit.edition import MeasuredEdition
from proofkit.folder.edition import Edition, Pull, Region, rectangle
from proofkit.folder.wishes import Wish

REGIONS = (Region("sky", "open", rectangle(1, 1, 20, 8)), Region("hull", "lines", rectangle(2, 12, 20, 20)))
PALM, RAG = {"ink": "stiff", "wiping": "palm"}, {"ink": "stiff", "wiping": "rag"}

FILM = {"1": 0.015, "2": 0.045, "3": 0.120, "4": 0.020, "5": 0.012, "6": 0.018}
"""Pull -> film in the sky. [D]"""
GROUND = {"1": 0.20, "2": 0.14, "3": 0.10, "4": 0.20, "5": 0.21, "6": 0.19}
LOAD = dict.fromkeys(FILM, 60.0)


def measured(
    tmp_path, *, wishes=(), candidates=("1", "2", "3"), tolerances=(), film=FILM, cells=None, failures=None
):
    cells = cells or {"1": PALM, "4": PALM, "5": PALM, "6": PALM, "2": RAG, "3": {"wiping": "hand, lucky"}}
    pulls = tuple(Pull(pull, f"{pull}.tif", dict(cells.get(pull, {}))) for pull in film)
    rows = []
    for pull in film:
        if pull in (failures or {}):
            continue
        rows.append(
            {
                "pull": pull,
                "region": "sky",
                "work": "open",
                "plate_tone_density": film[pull],
                "u_plate_tone_density": 0.001,
            }
        )
        rows.append({"pull": pull, "region": "hull", "work": "lines", "line_load_um": LOAD[pull],
                     "ground_between_lines_density": GROUND[pull]})  # fmt: skip
    edition = Edition(
        tmp_path,
        "Cove",
        pulls,
        REGIONS,
        None,
        candidates=candidates,
        wishes=tuple(wishes),
        tolerances=tolerances,
    )
    return MeasuredEdition(
        edition=edition, regions=REGIONS, standard="1", is_provisional=True,
        measurements=make_table(rows, MEASUREMENTS), sheets=make_table([], SHEETS), histograms={},
        tone_pictures={pull: np.full((20, 24), 0.8, np.float32) for pull in film}, failures=failures or {},
        plate_width_mm=22.0, plate_height_mm=21.0,
    )  # fmt: skip


CLEAN = Wish("sky", "clean")
OPEN = Wish("hull", "darks open")
