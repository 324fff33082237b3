"""Sheet results with awkward numbers in every place."""

import numpy as np

from proofkit.laying.types import Laying
from proofkit.ledger.keys import SheetKey
from proofkit.quality import Quality
from proofkit.reflectance.types import Paper
from proofkit.sheet import SheetResult

ODD = (0.1 + 0.2, 1e-300, -1.1, np.pi * 1e10, 5e-324)
"""Numbers that lose bits when written with few digits. (SQLite itself keeps no sign of zero.)"""


def key_of(scan="a", setup="b", standard="c", version="1"):
    return SheetKey(scan * 64, setup * 64, standard * 64, version)


def result_of(seed=0):
    """Return a result of two regions filled from a seeded generator; some measures are NaN, some absent."""
    mirrored = True
    random = np.random.default_rng(seed)
    rows = [
        {
            "pull": "1", "scan": "a.tif", "region": region, "work": "lines", "quality": "too fine",
            "line_load_um": np.float64(random.normal()), "u_line_load_um": ODD[seed % 5], "line_width_um": np.nan,
            "density_p50": float("nan"), "tone_fraction": random.random(), "plate_tone_density": ODD[(seed + 1) % 5],
        }
        for region in ("sky", "Wasser; tief'\"")
    ]  # fmt: skip
    return SheetResult(
        sheet={"pull": "1", "scan": "a.tif", "sha256": "a" * 64, "ppi_x": np.float64(600.1), "shear": np.nan,
               "mirrored": np.bool_(mirrored), "misfit_um": ODD[seed % 5], "quality": ""},
        rows=rows,
        histograms={"sky": [0, 3, 10**12], "Wasser; tief'\"": np.arange(270).tolist()},
        tone_picture=np.where(random.random((20, 30)) < 0.1, np.nan, random.random((20, 30))).astype(np.float32),
        laying=Laying(
            random.normal(size=(2, 3)), random.normal(size=(6, 7, 2)), 20.0, 1.001, 0.999, ODD[0], -0.3, mirrored, 31.0,
            Quality.PITCH_DOUBT | Quality.MIRRORED,
        ),
        paper=Paper(random.normal(size=(3, 3)), 1.0, 2.0, 3.0, 0.8, (95.1, ODD[3], -0.0), 0.01, 0.002, 0.3),
        corners_px=random.normal(size=(4, 2)),
    )  # fmt: skip
