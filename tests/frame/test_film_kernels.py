"""Sums along courses are those of plain indexing."""

import numpy as np

from proofkit.frame.film_kernels import sums_along


def test_rows_are_added_at_their_own_offsets_and_the_border_goes_on():
    rng = np.random.default_rng(2)
    table, offsets = rng.normal(size=(7, 30)), rng.integers(-9, 10, (5, 7))
    at = np.clip(np.arange(4, 28) + offsets[:, :, None], 0, 29)
    assert (sums_along(table, offsets, 4, 28) == table[np.arange(7)[:, None], at].sum(axis=1)).all()
