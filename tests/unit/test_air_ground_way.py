"""The way over the ground where it is known: straight lines, circles and beats, at all intervals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.ground_way import ground_way_m
from flightlog.motion.circles import turn_rates_degps
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import Leg, fly, observed

WIND = (4.0, -2.0)


def way_share(legs: list[Leg], interval_s: float, wind: tuple[float, float] = WIND) -> float:
    """Way found over the way flown."""
    path = fly(legs, wind=wind, altitude_m=1000.0)
    motion, air = observed(path, wind=wind, interval_s=interval_s)
    air = replace(air, turn_rate_degps=np.nan_to_num(turn_rates_degps(motion, *wind)))
    fine, _ = observed(path, wind=wind, interval_s=0.1)
    steps = np.hypot(np.diff(fine.east_m), np.diff(fine.north_m))
    inside = fine.time_s[1:] <= motion.time_s[-1] + 0.01
    return float(ground_way_m(motion, air, UNKNOWN_WING).sum() / steps[inside].sum())


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 4.0, 5.0])
def test_a_straight_way_is_as_long_as_it_is(interval_s: float) -> None:
    assert way_share([Leg(300, 10.0, -1.0, heading_deg=40.0)], interval_s) == pytest.approx(1.0, abs=0.002)


@pytest.mark.parametrize("interval_s", [0.5, 1.0, 2.0, 4.0, 5.0])
@pytest.mark.parametrize("turn_degps", [18.0, -25.0])
def test_circles_are_not_cut_short(interval_s: float, turn_degps: float) -> None:
    assert way_share([Leg(400, 10.0, 1.0, turn_degps=turn_degps)], interval_s) == pytest.approx(1.0, abs=0.01)


@pytest.mark.parametrize("interval_s", [1.0, 4.0, 5.0])
def test_beats_with_half_circles_between_them_are_not_cut_short(interval_s: float) -> None:
    legs = []
    for k in range(12):
        side = 1 if k % 2 == 0 else -1
        legs += [
            Leg(41.3, 9.0, 0.0, heading_deg=90.0 * side),
            Leg(9.0, 9.0, 0.0, heading_deg=90.0 * side, turn_degps=-20.0 * side),
        ]
    assert way_share(legs, interval_s) == pytest.approx(1.0, abs=0.015)


def test_across_a_gap_the_way_is_straight() -> None:
    path = fly([Leg(200, 10.0, 1.0, turn_degps=20.0)], wind=WIND, altitude_m=1000.0)
    motion, air = observed(path, wind=WIND)
    air = replace(air, turn_rate_degps=turn_rates_degps(motion, *WIND))
    piece = motion.piece.copy()
    piece[100:] += 1
    way_m = ground_way_m(replace(motion, piece=piece), air, UNKNOWN_WING)
    straight_m = np.hypot(motion.east_m[100] - motion.east_m[99], motion.north_m[100] - motion.north_m[99])
    assert way_m[99] == pytest.approx(straight_m)


def test_without_a_wind_the_turns_over_the_ground_serve() -> None:
    assert way_share([Leg(400, 10.0, 1.0, turn_degps=20.0)], 4.0, wind=(0.0, 0.0)) == pytest.approx(1.0, abs=0.01)
