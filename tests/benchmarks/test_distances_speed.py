"""How long the best distances of five hours at one fix a second take, and how much memory.

Time never fails: run with `pytest tests/benchmarks/test_distances_speed.py --benchmark-enable` and read the table.
Memory is the same on every machine and has a bound.
"""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest

from flightlog.distances.closing import Closing
from flightlog.distances.figures import KINDS, distances_of
from flightlog.distances.positions import positions_of

FIXES = 18_000
MOST_MEGABYTES = 200.0


def placed(east_m, north_m):
    noise = np.random.default_rng(5).normal(0.0, 1.5, (2, len(east_m)))
    lat = 47.0 + (north_m + noise[0]) / 111_200.0
    lon = 11.0 + (east_m + noise[1]) / 75_900.0
    return positions_of(np.arange(len(east_m)) * 1.0, np.round(lat * 6e4) / 6e4, np.round(lon * 6e4) / 6e4)


def cross_country():
    """Thermals and glides along three legs and back to within 12 km of the start."""
    random = np.random.default_rng(7)
    heading, turning, left = 0.0, 0.0, 0.0
    headings = []
    for k in range(FIXES):
        if left <= 0.0:
            turning = 0.0 if turning else 2.0 * np.pi / 20.0
            left = random.uniform(120.0, 500.0)
            if not turning:
                heading = (0.3, 2.4, 4.4)[3 * k // FIXES] + random.uniform(-0.6, 0.6)
        heading += turning
        left -= 1.0
        headings.append(heading)
    return placed(np.cumsum(10.0 * np.sin(headings)), np.cumsum(10.0 * np.cos(headings)))


def ridge():
    along = np.abs(np.arange(FIXES) * 10.0 % 16_000.0 - 8_000.0)
    return placed(along, 50.0 * np.sin(np.arange(FIXES) / 40.0))


FLIGHTS = {"cross-country": cross_country, "ridge, 11 laps": ridge}


@pytest.mark.parametrize("share", [0.05, 0.2])
@pytest.mark.parametrize("name", FLIGHTS)
def test_all_five_figures(benchmark, name, share):
    positions = FLIGHTS[name]()
    found = benchmark(distances_of, positions, 1, Closing(share=share), 60.0)
    assert all(getattr(found, kind).is_proved for kind in KINDS)


def test_memory():
    positions = cross_country()
    tracemalloc.start()
    try:
        distances_of(positions, 1, Closing(share=0.05), 60.0)
        peak = tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()
    assert peak < MOST_MEGABYTES
