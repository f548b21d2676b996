"""The smoother as a spline: the same as the smoother of states, and as a published routine."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import make_smoothing_spline

from flightlog.motion.smoothing import smooth, steps_between, wiener_precision
from flightlog.motion.splines import smooth_bend, smooth_rate

NO_GAP, GAPS = [400], [5, 3, 120, 4, 3, 265]


def uneven(pieces, seed=3):
    """Times, pieces, places, variances and densities, all of them uneven."""
    rng = np.random.default_rng(seed)
    count = sum(pieces)
    time_s = np.cumsum(rng.uniform(0.3, 4.0, count))
    place = np.cumsum(rng.normal(0.0, 8.0, count)) + 1j * np.cumsum(rng.normal(0.0, 8.0, count))
    variance, density = rng.uniform(0.5, 2.0, count), rng.uniform(0.1, 5.0, count - 1)
    return time_s, np.repeat(np.arange(len(pieces)), pieces), place, variance, density


@pytest.mark.parametrize("pieces", [[3], [4], [5], [6], NO_GAP, GAPS], ids=str)
def test_both_smoothers_are_one(pieces):
    time_s, piece, place, variance, density = uneven(pieces)
    steps = steps_between(time_s, piece)
    theirs = smooth(
        np.stack([place.real, place.imag], axis=1), 1 / variance, wiener_precision(steps, density, 3), loose=1e-12
    )
    for state, ours in enumerate(smooth_bend(time_s, piece, place, variance, density)):
        assert np.stack([ours.real, ours.imag], axis=1) == pytest.approx(theirs.states[:, state], abs=1e-6)
    theirs = smooth(place.real[:, None], 1 / variance, wiener_precision(steps, density, 2), loose=1e-12)
    for state, ours in enumerate(smooth_rate(time_s, piece, place.real, variance, density)):
        assert ours == pytest.approx(theirs.states[:, state, 0], abs=1e-6)


def test_the_cubic_one_is_scipys():
    time_s, piece, place, variance, _ = uneven(NO_GAP)
    spline = make_smoothing_spline(time_s, place.real, w=1 / variance, lam=1 / 0.7)
    value, rate = smooth_rate(time_s, piece, place.real, variance, np.full(len(time_s) - 1, 0.7))
    assert value == pytest.approx(spline(time_s), abs=1e-8)
    assert rate == pytest.approx(spline(time_s, nu=1), abs=1e-8)


def test_what_the_prior_leaves_free_stays():
    time_s, piece, _, variance, density = uneven(GAPS)
    parabola = 3.0 + 2.0 * time_s - 0.05 * time_s**2 + 1j * (7.0 - time_s)
    place, rate, second = smooth_bend(time_s, piece, parabola, variance, density)
    assert place == pytest.approx(parabola, abs=1e-6)
    assert rate == pytest.approx(2.0 - 0.1 * time_s - 1j, abs=1e-6)
    assert second == pytest.approx(np.full(len(time_s), -0.1 + 0j), abs=1e-6)


def test_pairs_are_joined_by_a_line():
    time_s, piece = np.array([0.0, 2.0, 100.0, 101.0]), np.array([0, 0, 1, 1])
    value, rate = smooth_rate(time_s, piece, np.array([0.0, 4.0, 9.0, 8.0]), np.ones(4), np.ones(3))
    assert value == pytest.approx([0.0, 4.0, 9.0, 8.0])
    assert rate == pytest.approx([2.0, 2.0, -1.0, -1.0])
