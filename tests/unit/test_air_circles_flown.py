"""Which way circles went: turns to and fro, gaps of the recording, recorders too slow to tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.circles_flown import circles_flown, turned_each_way_deg
from flightlog.arrays import frozen_ints
from flightlog.motion.circles import find_turnings
from flightlog.motion.motion import Motion, Turning
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import Leg, fly, observed


def circled(legs: list[Leg], *, interval_s: float = 1.0, seen_as: float = 1.0):
    """Straight on, these legs, straight on: each leg of 330 degrees and more is a turning, seen rightly or not."""
    path = fly([Leg(120, 10.0), *legs, Leg(60, 10.0)])
    motion, air = observed(path, interval_s=interval_s)
    circling = np.zeros(motion.time_s.size, dtype=np.int64)
    turnings = []
    for start_s, leg in zip(path.leg_starts_s[1:], legs, strict=False):
        first, stop = (int(k) for k in np.searchsorted(motion.time_s, [start_s, start_s + leg.seconds]))
        if abs(leg.turn_degps) * leg.seconds >= 330.0:
            sign = int(np.sign(leg.turn_degps * seen_as))
            circling[first:stop] = sign
            turnings.append(
                Turning(first, stop, "right" if sign > 0 else "left", abs(leg.turn_degps) * leg.seconds)
            )
    air = replace(air, circling=frozen_ints(circling), turnings=tuple(turnings))
    return motion, air, path.leg_starts_s[1], path.leg_starts_s[len(legs) + 1]


def test_half_circles_the_other_way_count_as_well() -> None:
    """Three circles to the right with two half ones to the left: a fourth of the turning, though no circle."""
    right, left = Leg(18, 10.0, turn_degps=20.0), Leg(9, 10.0, turn_degps=-20.0)
    motion, air, start_s, end_s = circled([right, left, right, left, right])
    first, stop = np.searchsorted(motion.time_s, [start_s, end_s])
    assert turned_each_way_deg(motion, air, int(first), int(stop)) == pytest.approx((360.0, 1080.0), abs=150.0)
    assert circles_flown(motion, air, start_s, end_s).direction == "mixed"


@pytest.mark.parametrize(("interval_s", "margin_deg"), [(1.0, 110.0), (4.0, 240.0)])  # two half steps at each end
def test_circling_on_through_a_gap_of_the_recording(interval_s: float, margin_deg: float) -> None:
    """Left for 60 s and right for 60 s, 40 of them silent: as much one way as the other."""
    motion, air, start_s, end_s = circled(
        [Leg(60, 10.0, turn_degps=-20.0), Leg(60, 10.0, turn_degps=20.0)], interval_s=interval_s
    )
    since_s = motion.time_s - start_s
    kept = (since_s < 70.0) | (since_s > 110.0)
    stopped = replace(motion, piece=frozen_ints((since_s > 90.0).astype(np.int64)))
    silent = _cut(stopped, kept)
    circling = np.where((since_s >= 0) & (since_s < 60), -1, np.where((since_s >= 60) & (since_s < 120), 1, 0))
    air = replace(_cut(air, kept, motion.time_s.size), circling=frozen_ints(circling[kept]))
    first, stop = (int(k) for k in np.searchsorted(silent.time_s, [start_s, end_s]))
    left, right = turned_each_way_deg(silent, air, first, stop)
    assert left == pytest.approx(1200.0, abs=margin_deg)
    assert right == pytest.approx(1200.0, abs=margin_deg)


def _cut(columns, kept: np.ndarray, count: int | None = None):
    """The kept fixes of a Motion or an Air."""
    size = count or columns.time_s.size
    parts = {
        name: value[kept]
        for name, value in vars(columns).items()
        if isinstance(value, np.ndarray) and value.shape == (size,)
    }
    return replace(columns, **parts)


def test_circles_of_two_fixes_that_look_like_the_other_way_are_not_told() -> None:
    """45 degrees a second are 225 in 5 s, which look like 135 the other way, flown at 6 instead of 10 m/s."""
    motion, air, start_s, end_s = circled([Leg(90, 10.0, turn_degps=45.0)], interval_s=5.0, seen_as=-1.0)
    slow = np.where(air.circling != 0, 6.0, air.airspeed_mps)
    flown = circles_flown(motion, replace(air, airspeed_mps=slow), start_s, end_s)
    assert flown.direction is None
    assert flown.period_s is None
    assert flown.bank_deg is None


def test_circles_of_three_fixes_are_told() -> None:
    motion, air, start_s, end_s = circled([Leg(90, 10.0, turn_degps=26.0)], interval_s=5.0)
    assert circles_flown(motion, air, start_s, end_s).direction == "right"


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_few_steep_circles_among_others_do_not_turn_the_other_way(side: float) -> None:
    """At 5 s, 40 degrees a second for 15 s look like 32 the other way; circles before and after tell."""
    motion = _turning_at([24.0] * 8 + [40.0] * 3 + [24.0] * 8, side)
    seen = [24.0] * 8 + [40.0 - 72.0] * 3 + [24.0] * 8
    rates = side * np.array([0.0] * 10 + seen + [0.0] * 10)
    (turning,) = find_turnings(motion, rates, UNKNOWN_WING)
    assert turning.direction == ("right" if side > 0 else "left")
    assert turning.turned_deg == pytest.approx(5.0 * (16 * 24.0 + 3 * 40.0), abs=130.0)


def _turning_at(rates_degps: list[float], side: float) -> Motion:
    """Five seconds of each of these turn rates, between straight flights of 50 s, a fix every 5 s."""
    legs = [Leg(50, 10.0), *(Leg(5, 10.0, turn_degps=side * rate) for rate in rates_degps), Leg(50, 10.0)]
    return observed(fly(legs), interval_s=5.0)[0]
