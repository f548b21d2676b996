"""How long the motion layer takes for five hours at one fix a second. Never fails on time: read the table.

Run with `pytest tests/benchmarks/test_motion_speed.py --benchmark-enable`.
"""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.motion.chains import most_likely_path
from flightlog.motion.circles import find_turnings, turn_rates_degps
from flightlog.motion.cleaning import clean_motion
from flightlog.motion.spells import find_spells
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import Mover, track_of


@pytest.fixture(scope="module")
def long_track():
    mover = Mover(1)
    mover.move(300.0)
    for k in range(70):
        mover.move(120.0, 10.0, 1.5, 22.0 * (-1) ** k, (4.0, 0.0), 0.5).move(
            125.0, 10.0, -1.4, 0.3, (4.0, 0.0), 0.5
        )
    track = track_of(mover.move(600.0).path())
    assert 17_500 < len(track.time_s) < 18_500
    return track


@pytest.fixture(scope="module")
def long_motion(long_track):
    return clean_motion(long_track, UNKNOWN_WING)


def test_clean_motion(benchmark, long_track):
    assert len(benchmark(clean_motion, long_track, UNKNOWN_WING).fix) == len(long_track.time_s)


def test_find_spells(benchmark, long_motion):
    assert [s.kind for s in benchmark(find_spells, long_motion, UNKNOWN_WING)] == ["ground", "air", "ground"]


def test_find_turnings(benchmark, long_motion):
    rates = turn_rates_degps(long_motion, 4.0, 0.0)
    assert len(benchmark(find_turnings, long_motion, rates, UNKNOWN_WING)) == 70


def test_chain_of_twenty_thousand(benchmark):
    likelihood = np.random.default_rng(1).normal(size=(20_000, 3))
    transition = np.log(np.full((3, 3), 0.01) + np.eye(3) * 0.97)
    assert len(benchmark(most_likely_path, likelihood, transition, np.zeros(3))) == 20_000
