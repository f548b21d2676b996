"""Speeds to fly against closed forms on w = 0.01 v^2 - 0.16 v + 1.64 (m/s).

The values follow from the polar by calculus (derived, not read in a publication); the theory is MacCready's, as in
Reichmann, Streckensegelflug, 1978.
"""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.measures.speed_to_fly import (
    cross_country_speed_mps,
    speed_over_ground_mps,
    speed_to_next_climb_mps,
)

POLAR = np.array([0.01, -0.16, 1.64])
"""Least sink 1.000 at 8.000 m/s, best glide ratio 10.40312 at 12.80625 m/s."""


def sink(speed: float) -> float:
    return float(np.polyval(POLAR, speed))


def test_without_wind_and_climb_it_is_the_best_glide() -> None:
    # GLD-02
    for speed in (speed_over_ground_mps(POLAR, 0.0), speed_to_next_climb_mps(POLAR, 0.0)):
        assert float(speed) == pytest.approx(12.80625, abs=1e-5)
    assert 12.80625 / sink(12.80625) == pytest.approx(10.40312, abs=1e-5)


@pytest.mark.parametrize(
    ("climb", "speed", "sinking", "cross_country"),
    [(1.0, 16.24808, 1.68031, 6.06202), (2.0, 19.07878, 2.22739, 9.02626)],
)
def test_speed_to_the_next_climb(climb: float, speed: float, sinking: float, cross_country: float) -> None:
    # GLD-03: v = sqrt((1.64 + M) / 0.01)
    found = float(speed_to_next_climb_mps(POLAR, climb))
    assert found == pytest.approx(speed, abs=1e-5)
    assert sink(found) == pytest.approx(sinking, abs=1e-5)
    assert float(cross_country_speed_mps(POLAR, found, climb)) == pytest.approx(cross_country, abs=1e-5)


@pytest.mark.parametrize(
    ("tailwind", "speed", "ratio"),
    [(-5.0, 15.44031, 6.72015), (-2.0, 13.66190, 8.83095), (2.0, 12.14214, 12.07107), (5.0, 11.40122, 14.70061)],
)
def test_best_glide_over_the_ground(tailwind: float, speed: float, ratio: float) -> None:
    # GLD-04
    found = float(speed_over_ground_mps(POLAR, tailwind))
    assert found == pytest.approx(speed, abs=1e-5)
    assert (found + tailwind) / sink(found) == pytest.approx(ratio, abs=1e-5)


def test_no_other_speed_is_better() -> None:
    speeds = np.linspace(8.0, 30.0, 22_001)
    for climb, air in ((1.0, 0.0), (1.0, -1.0), (2.0, 0.5), (0.5, 0.4)):
        best = speeds[cross_country_speed_mps(POLAR, speeds, climb, air).argmax()]
        assert float(speed_to_next_climb_mps(POLAR, climb, air)) == pytest.approx(best, abs=1e-3)
    for tailwind, air in ((-6.0, 0.0), (-3.0, -1.0), (4.0, 0.5)):
        best = speeds[((speeds + tailwind) / (np.polyval(POLAR, speeds) - air)).argmax()]
        assert float(speed_over_ground_mps(POLAR, tailwind, air)) == pytest.approx(best, abs=1e-3)


def test_sinking_air_counts_like_a_stronger_climb() -> None:
    # V w' = w + M - m: only M - m matters (Reichmann 1978)
    assert speed_to_next_climb_mps(POLAR, 1.0, -1.0) == pytest.approx(speed_to_next_climb_mps(POLAR, 2.0, 0.0))


def test_half_the_headwind_is_added() -> None:
    # GLD-05, a rule of thumb read in a public post: the exact answer of this polar is 0.43 to 0.53 of it
    for headwind in (2.0, 5.0):
        assert 0.4 < (float(speed_over_ground_mps(POLAR, -headwind)) - 12.80625) / headwind < 0.6


def test_there_is_no_best_in_air_that_holds_the_wing_up() -> None:
    # least sink is 1.000: air that rises by more leaves nothing to lose
    assert np.isnan(speed_over_ground_mps(POLAR, 0.0, 1.01))
    assert np.isfinite(speed_over_ground_mps(POLAR, 0.0, 0.99))
    assert np.isnan(speed_to_next_climb_mps(POLAR, 1.0, 2.01))
    assert np.isfinite(speed_to_next_climb_mps(POLAR, 1.0, 1.99))


def test_all_speeds_scale_with_the_root_of_density() -> None:
    # a polar at half the density: a * root, b, c / root with root = sqrt(0.5), all speeds over root
    root = np.sqrt(0.5)
    thin = POLAR * np.array([root, 1.0, 1.0 / root])
    assert float(speed_to_next_climb_mps(thin, 1.0 / root)) == pytest.approx(16.24808 / root, abs=2e-5)
    assert float(speed_over_ground_mps(thin, -5.0 / root)) == pytest.approx(15.44031 / root, abs=2e-5)
