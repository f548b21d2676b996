"""Levels under wandering heights: the error near a stand is the stand's own, far from it that of all stands."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.phases.levels import SHORT_SD_M, SPOT_SD_M, WANDER_S, WANDER_SD_M, level_nodes


def at(times, heights, when):
    nodes, levels, sds = level_nodes(np.array(times, dtype=float), np.array(heights, dtype=float))
    return float(np.interp(when, nodes, levels)), float(np.interp(when, nodes, sds))


def test_one_moment_on_the_ground_keeps_its_height_and_soon_tells_little():
    near, near_sd = at([1000.0], [812.0], 1000.0)
    far, far_sd = at([1000.0], [812.0], 3000.0)
    assert near == far == pytest.approx(812.0)
    assert near_sd == pytest.approx(np.hypot(SHORT_SD_M, np.hypot(SPOT_SD_M, SPOT_SD_M)), abs=0.1)
    assert far_sd == pytest.approx(np.sqrt(2) * WANDER_SD_M, rel=0.1)


def test_far_from_stands_their_mean_counts_and_near_one_its_own_height():
    times, heights = [0.0, 2000.0, 4000.0], [800.0, 806.0, 803.0]
    assert at(times, heights, 3000.0)[0] == pytest.approx(803.0, abs=0.2)
    assert at(times, heights, 2000.0)[0] == pytest.approx(805.8, abs=0.5)
    assert at(times, heights, 3000.0)[1] == pytest.approx(WANDER_SD_M * np.sqrt(1 + 1 / 3), rel=0.1)


def test_a_longer_stand_tells_the_mean_better():
    short, long = np.arange(0.0, 30.0, 15.0), np.arange(0.0, 900.0, 15.0)
    assert at(long, np.full(60, 5.0), 2000.0)[1] < at(short, np.full(2, 5.0), 2000.0)[1] - 0.7


def test_errors_of_simulated_wandering_are_as_large_as_said():
    rng, step, errors = np.random.default_rng(4), 5.0, []
    for _ in range(400):
        keep = np.exp(-step / WANDER_S)
        wander = [rng.normal(0, WANDER_SD_M)]
        for push in rng.normal(size=399):
            wander.append(keep * wander[-1] + WANDER_SD_M * np.sqrt(1 - keep**2) * push)
        seen = np.array([0, 3, 6, 9, 200, 203, 206, 399])
        heights = np.array(wander)[seen] + rng.normal(0, np.hypot(SHORT_SD_M, SPOT_SD_M), len(seen))
        for when in (25, 120, 215, 390):
            level, sd = at(step * seen, heights, step * when)
            errors.append((level - wander[when]) / np.hypot(sd, 0.0))
    assert np.std(errors) == pytest.approx(1.0, abs=0.08)
    assert np.mean(errors) == pytest.approx(0.0, abs=0.08)
