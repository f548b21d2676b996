"""Glides whose way and height are known."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from flightlog.measures.glides import measure_glides
from flightlog.measures.polars import GlideBlocks, glide_blocks, measure_performance
from flightlog.measures.results import Glide
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.settings import UNKNOWN_WING
from tests.unit.synthetic_motion import Leg, fly, observed


def flight(legs: list[Leg], wind: tuple[float, float] = (0.0, 0.0), **how: object):
    """Motion, air and a span in which every leg is a glide."""
    path = fly(legs, wind=wind, altitude_m=2000.0)
    motion, air = observed(path, wind=wind, **how)  # type: ignore[arg-type]
    edges = [*path.leg_starts_s, float(motion.time_s[-1])]
    phases = tuple(Phase("glide", None, a, b) for a, b in pairwise(edges))
    span = FlightSpan(1, edges[0], edges[0], edges[-1], True, True, 0.5, 0.5, 0, motion.time_s.size, phases)
    return motion, air, span


def glide(leg: Leg, wind: tuple[float, float] = (0.0, 0.0), **how: object) -> Glide:
    """The one glide of one leg."""
    (one,) = measure_glides(*flight([leg], wind, **how), UNKNOWN_WING)
    return one


@pytest.mark.parametrize(("tailwind_mps", "expected"), [(-5.0, 5.0), (0.0, 10.0), (5.0, 15.0)])
def test_glide_over_ground_in_head_and_tailwind(tailwind_mps: float, expected: float) -> None:
    # closed form L/D (V + w) / V: 10:1 at 10 m/s gives 5:1 against 5 m/s and 15:1 with it
    one = glide(Leg(120, 10.0, -1.0, heading_deg=90.0), wind=(tailwind_mps, 0.0))
    assert one.glide_ratio_ground is not None
    assert one.glide_ratio_air is not None
    assert one.glide_ratio_ground.value == pytest.approx(expected, rel=1e-3)
    assert one.glide_ratio_air.value == pytest.approx(10.0, rel=1e-3)
    assert one.tailwind_mps is not None
    assert one.tailwind_mps.value == pytest.approx(tailwind_mps, abs=1e-6)
    assert one.ground_speed_mps == pytest.approx(10.0 + tailwind_mps, rel=1e-3)
    assert one.sink_mps.value == pytest.approx(1.0, rel=1e-3)


def test_tailwind_of_a_glide_round_a_corner_is_that_of_its_legs_by_their_time() -> None:
    # first down the wind of 4 m/s, then back against it: along the line from start to end it would be 4
    motion, air, span = flight(
        [Leg(120, 10.0, -1.0, heading_deg=90.0), Leg(60, 10.0, -1.0, heading_deg=270.0)], (4.0, 0.0)
    )
    whole = Phase("glide", None, span.liftoff_s, span.phases[-1].end_s)
    (one,) = measure_glides(motion, air, replace(span, phases=(whole,)), UNKNOWN_WING)
    assert one.tailwind_mps is not None
    assert one.airspeed_mps is not None
    assert one.tailwind_mps.value == pytest.approx((120 * 4.0 - 60 * 4.0) / 180, abs=0.1)
    assert one.ground_speed_mps - one.airspeed_mps.value == pytest.approx(one.tailwind_mps.value, abs=0.1)


def test_the_interval_through_the_air_holds_the_winds_error() -> None:
    one = glide(Leg(120, 10.0, -1.0))
    assert one.glide_ratio_air is not None
    # sd of the wind 0.5 m/s of 10 m/s: 5 %, so 95 % within a factor exp(0.1)
    assert one.glide_ratio_air.high / one.glide_ratio_air.value == pytest.approx(np.exp(1.96 * 0.052), rel=0.02)
    assert one.glide_ratio_ground is not None
    assert one.glide_ratio_ground.high - one.glide_ratio_ground.low < 0.5


@pytest.mark.parametrize("climb_mps", [0.0, 0.4, -0.1])
def test_a_glide_that_loses_next_to_no_height_has_no_ratio(climb_mps: float) -> None:
    one = glide(Leg(120, 10.0, climb_mps))
    assert one.glide_ratio_ground is None
    assert one.glide_ratio_air is None
    assert one.note is not None
    assert one.height_lost_m == pytest.approx(-119.0 * climb_mps, abs=0.1)  # the last fix is a second early


def test_the_equivalent_airspeed_is_the_true_one_by_the_root_of_the_density() -> None:
    # synthetic air of 1.11 kg/m3 throughout; sea level 1.225 (ISO 2533:1975)
    one = glide(Leg(120, 10.0, -1.0))
    assert one.airspeed_mps is not None
    assert one.equivalent_airspeed_mps is not None
    root = np.sqrt(1.11 / 1.225)
    for part in ("value", "low", "high"):
        true, equivalent = getattr(one.airspeed_mps, part), getattr(one.equivalent_airspeed_mps, part)
        assert equivalent == pytest.approx(true * root, rel=1e-9)


@pytest.mark.parametrize("heading_deg", [0.0, 75.0, 190.0, 300.0])
def test_track_is_the_true_course(heading_deg: float) -> None:
    assert glide(Leg(60, 10.0, -1.0, heading_deg=heading_deg)).track_deg == pytest.approx(heading_deg, abs=0.1)


def test_distance_is_the_path_and_not_the_straight_line() -> None:
    motion, air, span = flight([Leg(60, 10.0, -1.0, heading_deg=0.0), Leg(60, 10.0, -1.0, heading_deg=90.0)])
    whole = replace(span, phases=(Phase("glide", None, span.liftoff_s, span.touchdown_s),))
    (one,) = measure_glides(motion, air, whole, UNKNOWN_WING)
    assert one.distance_m == pytest.approx(1190.0, rel=0.01)
    assert one.track_deg == pytest.approx(45.0, abs=1.0)


def test_without_wind_there_is_no_airspeed_but_a_ratio_over_ground() -> None:
    motion, air, span = flight([Leg(120, 10.0, -1.0)])
    unknown = np.full(motion.time_s.size, np.nan)
    blind = replace(air, wind_east_mps=unknown, wind_north_mps=unknown, wind_sd_mps=unknown, airspeed_mps=unknown)
    (one,) = measure_glides(motion, blind, span, UNKNOWN_WING)
    assert one.airspeed_mps is None
    assert one.equivalent_airspeed_mps is None
    assert one.tailwind_mps is None
    assert one.glide_ratio_air is None
    assert one.glide_ratio_ground is not None
    assert one.note is not None
    assert "wind" in one.note


def test_performance_is_all_way_over_all_height() -> None:
    motion, air, span = flight([Leg(100, 10.0, -1.0), Leg(100, 14.0, -2.0)])
    glides = measure_glides(motion, air, span, UNKNOWN_WING)
    done = measure_performance(glides, glide_blocks(motion, air, span, UNKNOWN_WING), UNKNOWN_WING)
    assert done.glide_ratio_ground is not None
    assert done.glide_ratio_ground.value == pytest.approx(2400.0 / 300.0, rel=0.01)
    assert done.glide_ratio_air is not None
    assert done.glide_ratio_air.value == pytest.approx(2400.0 / 300.0, rel=0.01)
    assert done.glide_time_s == pytest.approx(200.0, abs=1.0)


def test_no_glides_no_performance() -> None:
    motion, air, span = flight([Leg(100, 10.0, -1.0)])
    blocks: GlideBlocks = glide_blocks(motion, air, replace(span, phases=()), UNKNOWN_WING)
    done = measure_performance((), blocks, UNKNOWN_WING)
    assert (done.glide_ratio_ground, done.glide_ratio_air, done.polar) == (None, None, None)
    assert done.glide_time_s == 0.0
    assert done.note == "no glides"
