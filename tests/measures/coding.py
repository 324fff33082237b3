"""Reflectances as the whole numbers that measures of regions work on."""

import numpy as np

from proofkit.measures.raster import CodedCells
from proofkit.measures.region_cells import tally_of

UNIT = 1e-4
"""R/Rp of one code: reflectances to 6.5. [-]"""


def codes_of(light, unit=UNIT):
    """Codes of reflectances; NaN is not known, and 0 what is known is not."""
    codes = np.clip(np.rint(np.nan_to_num(light) / unit), 1, 65535)
    return np.where(np.isnan(light), 0, codes).astype(np.uint16)


def coded(light, unit=UNIT):
    return CodedCells(codes_of(light, unit), unit)


def tallied(light, unit=UNIT):
    return tally_of(np.bincount(codes_of(light, unit).ravel(), minlength=65536), unit)
