"""How well the share of line that prints is known, against lines that are read again and again."""

from types import SimpleNamespace

import numpy as np
import pytest

from proofkit.measures.continuity import printed, u_continuity


def reading(share, number, noise, rng):
    """One reading of crossings that carry a `share` of the standard's 80 µm."""
    return SimpleNamespace(
        points=np.arange(len(share)),
        number=number,
        integral_um=80 * (share + rng.normal(0, noise, len(share))),
        work=SimpleNamespace(lines=SimpleNamespace(load_um=np.full(len(share), 80.0))),
    )


def broken(rng, lines=60, length=50):
    """Lines that print with 0.9 of their load, run out to nothing over ten crossings here and there, and come back."""
    share = np.full((lines, length), 0.9)
    for row in share:
        if rng.random() < 0.6:
            at = rng.integers(5, length - 15)
            row[at : at + 10] = np.abs(np.linspace(-0.9, 0.9, 10))
    return share.ravel(), np.repeat(np.arange(lines), length)


@pytest.mark.parametrize("noise", [0.03, 0.08, 0.15])
def test_uncertainty_of_continuity_is_its_scatter(noise):
    rng = np.random.default_rng(3)
    share, number = broken(rng)
    found, stated = [], []
    for _ in range(400):
        prints, uncertain = printed(reading(share, number, noise, rng))
        found.append(prints.mean())
        stated.append(u_continuity(found[-1], uncertain, 1.0))
    assert 0.9 < np.mean(stated) / np.std(found) < 2.2


def test_breaks_that_were_not_read_are_not_known():
    """Of 200 lines, half of which carry no ink, 20 are read: against the scatter of such choices."""
    rng = np.random.default_rng(4)
    inked = rng.permutation(np.repeat([0.0, 1.0], 300))
    chosen = [rng.choice(inked, 60, replace=False).mean() for _ in range(2000)]
    # Three crossings count as one, so each of these stands for three.
    stated = u_continuity(0.5, np.zeros(180), 0.1)
    assert stated == pytest.approx(np.std(chosen), rel=0.1)


def test_of_unbroken_lines_half_a_crossing_is_uncertain():
    assert u_continuity(1.0, np.zeros(300), 1.0) == pytest.approx(np.sqrt(0.5) / 100)
