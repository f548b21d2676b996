"""Short stops in the middle of a flight: on the ground, or parked into the wind above it."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.motion.motion import Spell
from flightlog.phases.hovering import without_hovering
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import Leg, fly, observed


def day(stop_height_m=0.0, stop_climb_mps=0.0, stop_s=60.0, stop_speed_mps=0.0):
    """Standing, flying, a stop at a height above the ground stood on at first, flying on; and its spells."""
    up = Leg(60, 10.0, stop_height_m / 60.0, heading_deg=0.0)
    back = Leg(60, 10.0, 0.0, heading_deg=180.0)
    stop = Leg(stop_s, stop_speed_mps, stop_climb_mps, on_foot=True, heading_deg=0.0)
    path = fly([Leg(300, 0.0, on_foot=True), up, back, stop, Leg(60, 10.0, 0.0, heading_deg=0.0)])
    motion, _ = observed(path)
    edges = [float(motion.time_s[0]), *[float(start) for start in path.leg_starts_s[1:]], float(motion.time_s[-1])]
    spells = tuple(
        Spell(kind, edges[first], edges[last], True)
        for kind, first, last in (("ground", 0, 1), ("air", 1, 3), ("ground", 3, 4), ("air", 4, 5))
    )
    return motion, [spells[1], spells[3]], spells


def stretches_left(**options):
    return len(without_hovering(*day(**options), PARAGLIDER))


def test_a_stop_at_the_height_of_the_ground_parts_two_flights():
    assert stretches_left() == 2


@pytest.mark.parametrize("height_m", [15.0, 40.0])
def test_a_stop_high_above_ground_stood_on_is_hovering(height_m):
    assert stretches_left(stop_height_m=height_m) == 1


def test_sinking_on_the_spot_is_hovering():
    assert stretches_left(stop_climb_mps=-0.2) == 1


def test_walking_up_a_slope_is_no_hovering():
    """0.4 m/s up at a walk of 1.4 m/s: a slope of 16 degrees."""
    assert stretches_left(stop_climb_mps=0.4, stop_speed_mps=1.4) == 2


def test_a_long_stop_is_never_hovering():
    assert stretches_left(stop_climb_mps=-0.2, stop_s=PARAGLIDER.hover_longest_s + 20.0) == 2


def test_joined_stretches_span_both():
    motion, stretches, spells = day(stop_height_m=30.0)
    (one,) = without_hovering(motion, stretches, spells, PARAGLIDER)
    assert (one.start_s, one.end_s) == (stretches[0].start_s, stretches[1].end_s)
    assert np.isfinite(one.start_s)
