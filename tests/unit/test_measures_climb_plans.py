"""Climbs seen from the air: circles flown in a wind lie on each other once it is taken away."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from flightlog.measures.climb_plans import climb_plans
from flightlog.measures.climbs import measure_climbs
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import Leg
from tests.unit.test_measures_climbs import circling


def test_circles_in_a_wind_lie_on_each_other_with_their_true_radius():
    motion, air, span = circling(turn_degps=18.0, speed_mps=10.0)
    (plan,) = climb_plans(motion, air, measure_climbs(motion, air, span, UNKNOWN_WING))
    radius = np.hypot(plan.east_m, plan.north_m)
    true = 10.0 / math.radians(18.0)  # speed over turn rate
    assert np.median(radius) == pytest.approx(true, rel=0.05)
    assert np.quantile(radius, 0.95) < 1.15 * true
    over_ground = np.ptp(motion.east_m[span.first : span.stop])
    assert np.ptp(plan.east_m) < 0.5 * over_ground


def test_strong_is_where_it_rose_faster_than_on_the_whole():
    legs = [Leg(90, 10.0, 1.0, turn_degps=18.0), Leg(90, 10.0, 3.0, turn_degps=18.0)]
    motion, air, span = circling(legs=legs)
    (plan,) = climb_plans(motion, air, measure_climbs(motion, air, span, UNKNOWN_WING))
    half = len(plan.is_strong) // 2
    assert plan.is_strong[: half - 5].mean() < 0.1
    assert plan.is_strong[half + 5 :].mean() > 0.9


def test_what_has_no_wind_a_gap_or_no_circles_is_left_out():
    motion, air, span = circling()
    climbs = measure_climbs(motion, air, span, UNKNOWN_WING)
    assert climb_plans(motion, air, [replace(climbs[0], mode="ridge")]) == ()
    blind = replace(air, wind_east_mps=np.full_like(air.wind_east_mps, np.nan))
    assert climb_plans(motion, blind, climbs) == ()
    halves = np.where(np.arange(len(motion.time_s)) < len(motion.time_s) // 2, 0, 1)
    assert climb_plans(replace(motion, piece=halves), air, climbs) == ()
