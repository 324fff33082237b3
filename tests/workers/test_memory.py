from hypothesis import given
from hypothesis import strategies as st

from proofkit.workers.memory import MEMORY_FRACTION, free_memory, sheet_bytes, workers_for

A3_1200_PX = 14000 * 19800
"""An A3 sheet at 1200 ppi."""


@given(
    px=st.integers(0, 2 * 10**9),
    points=st.integers(0, 10**7),
    sheets=st.integers(1, 500),
    free=st.floats(0, 1e12),
    most=st.integers(1, 128),
)
def test_there_is_always_one_and_never_more_than_fit(px, points, sheets, free, most):
    needed = sheet_bytes(px, points)
    workers = workers_for(needed, sheets, free, most)
    assert 1 <= workers <= max(1, min(sheets, most))
    assert workers == 1 or workers * needed <= MEMORY_FRACTION * free


def test_large_sheets_are_measured_one_by_one_on_a_small_machine():
    assert workers_for(sheet_bytes(A3_1200_PX, 500_000), 50, 4e9, 8) == 1
    assert workers_for(sheet_bytes(A3_1200_PX, 500_000), 50, 64e9, 8) == 8


def test_dense_line_work_takes_its_share():
    assert workers_for(sheet_bytes(10**7, 10**7), 50, 16e9, 8) < workers_for(
        sheet_bytes(10**7, 0), 50, 16e9, 8
    )


def test_this_machine_has_memory():
    assert free_memory() > 100e6
