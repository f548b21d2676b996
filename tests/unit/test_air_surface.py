"""The wind at the ground from the wind flown beside it."""

import math

import pytest

from flightlog.air.surface import headwind_estimate, wind_near_ground
from tests.unit.synthetic_motion import EPOCH_S, Leg, fly, observed


def test_the_ground_slows_the_wind_and_the_interval_holds_both_flat_ground_and_crest():
    motion, air = observed(fly([Leg(120, 10, -1.0)], wind=(6.0, 0.0)), wind=(6.0, 0.0))
    ground = headwind_estimate(motion, air, EPOCH_S, EPOCH_S + 60, math.radians(270))
    assert 4.5 < ground.value < 6.0
    assert ground.low < 0.68 * 6.0  # power law with exponent 1/7 from 45 m down to 3 m: (3 / 45) ** (1 / 7)
    assert ground.high > 6.0  # a crest that speeds the lowest metres up
    assert pytest.approx(0.68, abs=0.005) == (3 / 45) ** (1 / 7)


def test_aloft_the_wind_is_as_flown():
    motion, air = observed(fly([Leg(120, 10, -1.0)], wind=(6.0, 2.0)), wind=(6.0, 2.0))
    east, north, _ = wind_near_ground(motion, air, EPOCH_S, EPOCH_S + 60, is_aloft=True)
    assert (east, north) == pytest.approx((6.0, 2.0))


def test_an_unknown_wind_stays_unknown():
    motion, air = observed(fly([Leg(120, 10, -1.0)]), wind=None)
    assert headwind_estimate(motion, air, EPOCH_S, EPOCH_S + 60, 0.0) is None
