"""Of plenty of crossings some are read, evenly, together with their neighbours; of few, all."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.folder.edition import Region, rectangle
from proofkit.lines.crossings import CrossingValues, placed_among
from proofkit.measures.chosen import EVENLY, MOST_READ, crossings_to_fit, crossings_to_read
from proofkit.measures.line_work import RegionLines
from proofkit.measures.lines import crossing_loads
from proofkit.measures.sampling import middle_mean, u_middle

POINTS = 100
"""Points of a line, 0.15 mm apart."""


def ruled(count, seed=1):
    """So many lines 0.3 mm apart, of which every tenth crossing has another line over it."""
    rng = np.random.default_rng(seed)
    number = np.repeat(np.arange(count, dtype=np.int32), POINTS)
    along = np.tile(0.15 * np.arange(POINTS), count)
    points = np.column_stack((along, 0.3 * number))
    return SimpleNamespace(
        lines=SimpleNamespace(size=len(number), points_mm=points, line=number, length_mm=np.full(len(number), 0.15)),
        clear=rng.random(len(number)) > 0.1,
    )  # fmt: skip


def region(work, lines, y0=-1.0):
    return Region("all", work, rectangle(-1, y0, 16, lines.lines.points_mm[:, 1].max() + 1))


def test_of_few_all_are_read():
    lines = ruled(50)
    assert crossings_to_read([region("lines", lines)], lines).tolist() == list(range(lines.lines.size))


def test_outside_line_work_only_an_even_choice_is_read():
    lines = ruled(500)
    read = crossings_to_read([region("tone", lines)], lines)
    assert lines.clear[read].all()
    assert EVENLY <= len(read) < 2 * EVENLY


@pytest.mark.parametrize("count", [150, 400, 903])
def test_of_plenty_an_even_choice_is_read_with_what_is_fitted_and_the_neighbours(count):
    lines = ruled(count)
    whole = region("lines", lines)
    record = SimpleNamespace(region=whole, points=np.arange(lines.lines.size))
    read = crossings_to_read([whole], lines)
    assert (np.diff(read) > 0).all()
    assert lines.clear[read].sum() > MOST_READ / 2
    assert len(read) < 3 * MOST_READ
    fitted = np.flatnonzero(crossings_to_fit([record], lines))
    assert set(fitted) <= set(read)
    beside = np.concatenate((fitted - 1, fitted + 1)).clip(0, lines.lines.size - 1)
    same = lines.lines.line[beside] == np.tile(lines.lines.line[fitted], 2)
    assert set(beside[same]) <= set(read)
    # Each tenth of the plate has its tenth of them.
    share = np.histogram(lines.lines.points_mm[read, 1], 10)[0] / len(read)
    assert share == pytest.approx(np.full(10, 0.1), abs=0.02)


def test_the_middle_of_what_is_read_is_that_of_all_within_its_uncertainty():
    """Lines whose load drifts over the plate and swells along, read with noise: 40 plates, beside all crossings."""
    lines = ruled(800)
    read = crossings_to_read([region("lines", lines)], lines)
    read = read[lines.clear[read]]
    x, y = lines.lines.points_mm.T
    off = []
    for seed in range(40):
        rng = np.random.default_rng(seed)
        swell = np.sin(x / rng.uniform(0.5, 4) + rng.uniform(0, 6)) + np.sin(y / rng.uniform(5, 60) + 1)
        load = 60 * (1 + 0.1 * swell) + rng.normal(0, 6, len(x)) + rng.normal(0, 3, 800)[lines.lines.line]
        share = len(read) / lines.clear.sum()
        stated = u_middle(load[read], lines.lines.line[read], share)
        assert stated < 0.003 * 60
        off.append((middle_mean(load[read]) - middle_mean(load[lines.clear])) / stated)
    assert np.sqrt(np.mean(np.square(off))) < 1.2


def test_both_kinds_of_lines_of_a_region_count_by_their_number():
    """Half of the lines hatched with a load of 30 µm, half alone with 50; fits were made of every fifth crossing."""
    n = 4000
    hatched = np.arange(n) < n // 2
    chosen = np.arange(n) % 5 == 0
    work = SimpleNamespace(
        values=SimpleNamespace(load_um=np.full(n, 50.0)),
        lines=SimpleNamespace(
            lines=SimpleNamespace(normals=np.tile((0.0, 1.0), (n, 1))),
            spacing_mm=np.full(n, 0.3),
            apart_mm=np.full(n, np.inf),
            clear=np.ones(n, dtype=bool),
        ),
        px_mm=0.04,
        fits=SimpleNamespace(
            width_um=np.where(chosen, 40.0, np.nan), depth=np.full(n, 0.75), chosen=chosen, hatched=hatched
        ),
    )
    record = SimpleNamespace(
        region=SimpleNamespace(work="lines"), points=np.arange(n), close=np.zeros(n, dtype=bool)
    )
    load = crossing_loads(RegionLines(record, work))
    assert np.mean(load[np.isfinite(load)]) == pytest.approx(40.0)
    work.fits.hatched = np.zeros(n, dtype=bool)
    assert (crossing_loads(RegionLines(record, work)) == 50.0).all()


def test_crossings_far_from_the_lines_that_cross_tell_the_load():
    """Close ones read 4 % heavy, as they do; of crossings that no line crosses every other one tells beside them."""
    n = 4000
    apart = np.where(np.arange(n) < n // 2, np.tile((0.02, 0.03, 0.05, 0.06), n // 4), np.inf)
    load = np.where(apart < 0.04, 52.0, 50.0)
    work = SimpleNamespace(
        values=SimpleNamespace(load_um=np.full(n, 1.0)),
        lines=SimpleNamespace(
            lines=SimpleNamespace(normals=np.tile((0.0, 1.0), (n, 1))),
            spacing_mm=np.full(n, 0.3),
            apart_mm=apart,
            clear=np.ones(n, dtype=bool),
        ),
        px_mm=0.02,
        fits=SimpleNamespace(
            width_um=load / 0.8,
            depth=np.full(n, 0.8),
            chosen=np.ones(n, dtype=bool),
            hatched=np.ones(n, dtype=bool),
            broad=SimpleNamespace(blur_mm=0.02),
        ),
    )
    record = SimpleNamespace(
        region=SimpleNamespace(work="lines"), points=np.arange(n), close=np.zeros(n, dtype=bool)
    )
    told = crossing_loads(RegionLines(record, work))
    known = np.isfinite(told)
    assert told[known] == pytest.approx(50.0)
    assert known[: n // 2].sum() == known[n // 2 :].sum() == n // 4


def test_values_of_some_stand_at_their_places_among_all():
    values = CrossingValues(*(np.array([1.0, 2.0]) + 10 * k for k in range(11)))
    whole = placed_among(values, np.array([1, 3]), 5)
    assert whole.offset_mm[:] == pytest.approx([np.nan, 51.0, np.nan, 52.0, np.nan], nan_ok=True)
