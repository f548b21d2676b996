"""The launch run of hand-built flights."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.air.surface import GROUND_WIND_SHARE
from flightlog.measures.events import measure_landing, measure_takeoff
from flightlog.measures.launch import lift_share_at_rest, measure_launch
from flightlog.motion.motion import Spell
from flightlog.phases.flights import find_flights
from flightlog.phases.grounds import find_grounds
from flightlog.places import Place
from flightlog.settings import PARAGLIDER
from flightlog.wings import Wing
from tests.unit.synthetic_motion import Leg, fly, observed

WIND = (1.0, -3.0)  # 3 m/s from the north, 1 m/s from the west
WING = Wing("Invented", "paraglider", empty_kg=6.0, all_up_kg=95.0)


@pytest.fixture(name="flight")
def one_flight():
    """Run north for 5 s, fly out, come back round, land beside the launch."""
    run = [Leg(1.0, s, on_foot=True) for s in (1.5, 2.5, 3.5, 4.5, 5.4)]
    legs = [
        Leg(60, 0.0, on_foot=True), *run, Leg(20, 10.2, 0.8), Leg(60, 10.2, 0.6, turn_degps=6),
        Leg(60, 10.2, -0.7, turn_degps=6), Leg(20, 10.2, -0.5), Leg(2, 8.0, -0.2), Leg(2, 2.0, on_foot=True),
        Leg(60, 0.0, on_foot=True),
    ]  # fmt: skip
    path = fly(legs, wind=WIND)
    motion, air = observed(path, wind=WIND)
    liftoff, touch = path.leg_starts_s[6], path.leg_starts_s[-2]
    spells = (
        Spell("ground", float(motion.time_s[0]), liftoff), Spell("air", liftoff, touch),
        Spell("ground", touch, float(motion.time_s[-1])),
    )  # fmt: skip
    (span,) = find_flights(motion, air, spells, PARAGLIDER)
    return motion, air, span, path


def test_run_and_wind_of_a_launch(flight):
    motion, air, span, _ = flight
    launch = measure_launch(motion, air, span, PARAGLIDER, WING)
    assert launch.run_duration_s == pytest.approx(5.0, abs=1.5)
    assert launch.run_length_m == pytest.approx(17.4, abs=6.0)
    assert launch.headwind_mps.value == pytest.approx(GROUND_WIND_SHARE * 3.0, abs=0.05)
    assert launch.crosswind_mps.value == pytest.approx(GROUND_WIND_SHARE * -1.0, abs=0.05)  # from the left
    slowed_mps = (1.0 - GROUND_WIND_SHARE) * 3.0  # this simulated wind blows at the ground as it does aloft
    assert launch.airspeed_mps.value == pytest.approx(10.2 - slowed_mps, abs=0.4)  # flying north at 10.2 m/s
    assert launch.airspeed_mps.low < 10.2 < launch.airspeed_mps.high
    assert launch.ground_speed_mps == pytest.approx(np.hypot(10.2 - 3.0, 1.0), abs=0.4)
    assert launch.headwind_mps.low < 3.0 < launch.headwind_mps.high
    share = launch.lift_share_at_rest
    assert share.value == pytest.approx(
        (GROUND_WIND_SHARE * 3.0 / launch.airspeed_mps.value) ** 2 * 95.0 / 6.0, rel=0.02
    )
    assert 0.0 <= share.low < share.value < share.high


def test_unknown_wind_is_said_and_not_guessed(flight):
    motion, _, span, path = flight
    _, blind = observed(path, wind=None)
    launch = measure_launch(motion, blind, span, PARAGLIDER, WING)
    assert launch.headwind_mps is launch.crosswind_mps is launch.airspeed_mps is launch.lift_share_at_rest is None
    assert "wind" in launch.note


def test_no_wing_file_no_lift_share(flight):
    motion, air, span, _ = flight
    launch = measure_launch(motion, air, span, PARAGLIDER)
    assert launch.lift_share_at_rest is None
    assert "wing file" in launch.note


def test_a_log_that_starts_in_the_air_has_no_launch(flight):
    motion, air, span, _ = flight
    assert measure_launch(motion, air, replace(span, starts_in_air=True), PARAGLIDER) is None
    assert measure_takeoff(motion, replace(span, starts_in_air=True), (), PARAGLIDER).kind == "start_of_log"


def test_tailwind_carries_nothing():
    assert lift_share_at_rest(-2.0, 10.0, 100.0, 30.0) == 0.0


def test_events_name_their_place_and_kind(flight):
    motion, _, span, _ = flight
    takeoff = measure_takeoff(motion, span, (), PARAGLIDER)
    assert (takeoff.kind, takeoff.place) == ("foot_launch", None)
    top = Place("Brow", takeoff.lat_deg, takeoff.lon_deg, takeoff.altitude_m, 1500.0, ("launch",))
    assert measure_takeoff(motion, span, (top,), PARAGLIDER).place == "Brow"
    for use, kind in ((("top_landing",), "top_landing"), (("landing",), "landing")):
        place = replace(top, use=use, radius_m=4000.0)
        grounds = find_grounds(motion, (span,), (place,), PARAGLIDER)
        event = measure_landing(motion, span, grounds, (place,), PARAGLIDER)
        assert event.kind == kind
        assert event.time_sd_s == span.touchdown_sd_s
    gone = measure_landing(motion, replace(span, ends_in_air=True), (), (), PARAGLIDER)
    assert (gone.kind, gone.place) == ("end_of_log", None)


def test_height_lost_after_liftoff(flight):
    """Climbing out at once loses nothing; sinking at 0.8 m/s loses 8 m in ten seconds."""
    motion, air, span, _ = flight
    assert measure_launch(motion, air, span, PARAGLIDER).sink_after_liftoff_m is None
    sinking = replace(motion, altitude_m=motion.altitude_m - 1.6 * np.maximum(motion.time_s - span.liftoff_s, 0.0))
    assert measure_launch(sinking, air, span, PARAGLIDER).sink_after_liftoff_m == pytest.approx(8.0, abs=1.0)
    unknown = replace(motion, altitude_m=np.full_like(motion.altitude_m, np.nan))
    assert measure_launch(unknown, air, span, PARAGLIDER).sink_after_liftoff_m is None


@pytest.mark.parametrize(
    ("all_up_lb", "liftoff_kt"), [(250.0, 21.9), (275.0, 23.0), (300.0, 24.0), (320.0, 24.8), (350.0, 25.9)]
)
def test_eight_knots_carry_about_a_third_of_a_100_lb_wing(all_up_lb, liftoff_kt):
    """A hang gliding rule of thumb (common practice, no source), and lift-off speeds at which it holds exactly.

    Derived: lift goes with the square of airspeed, 8 kt sqrt(3 W / 100 lb).
    """
    assert lift_share_at_rest(8.0, liftoff_kt, all_up_lb, 100.0) == pytest.approx(1.0 / 3.0, abs=0.003)


@pytest.mark.parametrize(("liftoff_kt", "relief_lb"), [(16, 75.0), (18, 59.3), (20, 48.0), (22, 39.7), (24, 33.3)])
def test_relief_by_eight_knots_of_wind(liftoff_kt, relief_lb):
    """Derived from the same square: what 8 kt carry of a 100 lb wing that flies with 300 lb in all."""
    assert 100.0 * lift_share_at_rest(8.0, liftoff_kt, 300.0, 100.0) == pytest.approx(relief_lb, abs=0.1)


@pytest.mark.parametrize(("wing_lb", "wind_kt"), [(70.0, 9.66), (100.0, 11.55)])
def test_wind_that_floats_the_wing_alone(wing_lb, wind_kt):
    """Derived from the same square: 300 lb in all, lift-off at 20 kt."""
    assert lift_share_at_rest(wind_kt, 20.0, 300.0, wing_lb) == pytest.approx(1.0, abs=0.002)
