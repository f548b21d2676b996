"""Flights from hand-built motions: their ends to the second, and what is no flight."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from flightlog.arrays import frozen_floats
from flightlog.motion.motion import Spell
from flightlog.phases.flight_ends import usual_airspeed
from flightlog.phases.flights import find_flights
from flightlog.settings import PARAGLIDER, UNKNOWN_WING
from tests.unit.synthetic_motion import Leg, fly, observed

WIND = (0.0, -3.0)  # from the north


def day(wind=WIND):
    """Stand, run north, fly a round, land, stand; lift-off when 8.3 m/s of air flow over the wing."""
    run = [Leg(1.0, s, on_foot=True) for s in np.arange(1.0, 8.3 + wind[1], 1.6)]
    legs = [
        Leg(60, 0.0, on_foot=True), *run, Leg(1.5, 8.3, -0.5), Leg(25, 10.2, -0.8),
        Leg(60, 10.2, 1.5, turn_degps=6),
        Leg(90, 10.2, 0.0), Leg(60, 10.2, -1.2, turn_degps=6), Leg(20, 10.2, -1.2), Leg(2, 8.0, -0.6),
        Leg(2, 3.0, on_foot=True), Leg(60, 0.0, on_foot=True),
    ]  # fmt: skip
    path = fly(legs, wind=wind)
    return path, path.leg_starts_s[1], path.leg_starts_s[1 + len(run)], path.leg_starts_s[-2]


def spells(motion, takeoff_s, touchdown_s):
    first, last = float(motion.time_s[0]), float(motion.time_s[-1])
    return (
        Spell("ground", first, takeoff_s), Spell("air", takeoff_s, touchdown_s),
        Spell("ground", touchdown_s, last),
    )  # fmt: skip


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("error_s", [-3.0, 0.0, 3.0])
@pytest.mark.parametrize("known_wind", [True, False])
def test_ends_are_found_to_two_seconds_whatever_the_spell_says(interval_s, error_s, known_wind):
    path, run_s, liftoff_s, touchdown_s = day()
    motion, air = observed(path, interval_s=interval_s, wind=WIND if known_wind else None)
    (flight,) = find_flights(motion, air, spells(motion, liftoff_s + error_s, touchdown_s + error_s), PARAGLIDER)
    assert flight.liftoff_s == pytest.approx(liftoff_s, abs=2.0)
    assert flight.touchdown_s == pytest.approx(touchdown_s, abs=2.1)
    assert flight.start_s == pytest.approx(run_s, abs=1.5)
    assert flight.liftoff_sd_s >= 0.4
    assert flight.touchdown_sd_s >= 0.5
    assert not flight.starts_in_air
    assert not flight.ends_in_air


def test_fixes_of_a_flight_are_those_from_run_to_touch():
    path, _, liftoff_s, touchdown_s = day()
    motion, air = observed(path, wind=WIND)
    (flight,) = find_flights(motion, air, spells(motion, liftoff_s, touchdown_s), PARAGLIDER)
    assert motion.time_s[flight.first] >= flight.start_s > motion.time_s[flight.first - 1]
    assert motion.time_s[flight.stop - 1] <= flight.touchdown_s < motion.time_s[flight.stop]


def test_a_log_that_starts_and_ends_in_the_air_says_so():
    path = fly([Leg(300, 10.2, -0.8)], wind=WIND)
    motion, air = observed(path, wind=WIND)
    whole = Spell("air", float(motion.time_s[0]), float(motion.time_s[-1]))
    (flight,) = find_flights(motion, air, (whole,), PARAGLIDER)
    assert flight.starts_in_air
    assert flight.ends_in_air
    assert (flight.liftoff_s, flight.touchdown_s) == (whole.start_s, whole.end_s)
    assert {note.code for note in flight.notes} == {"starts_in_air", "ends_in_air"}


def test_kiting_and_hops_are_no_flights():
    hop = [Leg(30, 0, on_foot=True), Leg(4, 4.0, on_foot=True), Leg(4, 8.5, 0.0), Leg(30, 0, on_foot=True)]
    motion, air = observed(fly(hop, wind=WIND), wind=WIND)
    start = float(motion.time_s[0])
    assert find_flights(motion, air, (Spell("air", start + 32, start + 38),), PARAGLIDER) == ()
    kiting = [Leg(20, 0, on_foot=True), Leg(15, 3.5, 0.1), Leg(15, 3.5, -0.1), Leg(20, 0, on_foot=True)]
    motion, air = observed(fly(kiting, wind=WIND), wind=WIND)
    assert find_flights(motion, air, (Spell("air", start + 20, start + 50),), PARAGLIDER) == ()


def test_a_walk_down_a_hill_is_no_flight():
    motion, air = observed(fly([Leg(400, 1.4, -0.3, on_foot=True)]), wind=None)
    walk = Spell("air", float(motion.time_s[0]) + 30, float(motion.time_s[-1]) - 30)
    assert find_flights(motion, air, (walk,), UNKNOWN_WING) == ()


def test_parked_in_strong_wind_is_a_flight():
    """No ground speed, no run: the air shakes the wing, and height changes."""
    wind = (0.0, -10.0)
    shaken = [Leg(10, 10.0, climb) for climb in (1, -1, 1.5, -1, 0.5, -1.5) * 6]
    legs = [Leg(60, 0, on_foot=True), Leg(20, 10.0, 1.0), *shaken]
    legs += [Leg(20, 10.0, -1.0), Leg(60, 0, on_foot=True)]
    path = fly(legs, wind=wind)
    motion, air = observed(path, wind=wind, shake_mps=0.3)
    (flight,) = find_flights(
        motion, air, spells(motion, path.leg_starts_s[1] + 3, path.leg_starts_s[-1] + 2), PARAGLIDER
    )
    assert flight.liftoff_s == pytest.approx(path.leg_starts_s[1], abs=2.0)
    assert flight.start_s == pytest.approx(flight.liftoff_s, abs=3.0)
    assert flight.touchdown_s == pytest.approx(path.leg_starts_s[-1], abs=2.5)


def test_landing_on_top_and_starting_again_gives_two_flights():
    path, _, liftoff_s, touchdown_s = day()
    motion, air = observed(path, wind=WIND)
    half = (liftoff_s + touchdown_s) / 2
    parts = (
        Spell("ground", float(motion.time_s[0]), liftoff_s), Spell("air", liftoff_s, half - 30),
        Spell("ground", half - 30, half + 30), Spell("air", half + 30, touchdown_s),
    )  # fmt: skip
    flights = find_flights(motion, air, parts, PARAGLIDER)
    assert [flight.number for flight in flights] == [1, 2]
    assert flights[0].touchdown_s <= flights[1].start_s


@pytest.mark.parametrize(("stop_s", "noted"), [(20.0, True), (60.0, False)])
def test_a_short_stop_is_noted(stop_s, noted):
    path, _, liftoff_s, touchdown_s = day()
    motion, air = observed(path, wind=WIND)
    half = (liftoff_s + touchdown_s) / 2
    parts = (
        Spell("ground", float(motion.time_s[0]), liftoff_s), Spell("air", liftoff_s, half - stop_s / 2),
        Spell("ground", half - stop_s / 2, half + stop_s / 2), Spell("air", half + stop_s / 2, touchdown_s),
    )  # fmt: skip
    flights = find_flights(motion, air, parts, PARAGLIDER)
    assert len(flights) == 2
    if noted:
        assert "short_stop" in {note.code for note in flights[1].notes}


def test_a_long_silence_parts_two_flights():
    path = fly([Leg(400, 10.2, -0.8)], wind=WIND)
    motion, air = observed(path, wind=WIND)
    late = np.where(np.arange(len(motion.time_s)) >= 200, 3600.0, 0.0)
    motion = replace(motion, time_s=frozen_floats(motion.time_s + late), piece=(late > 0).astype(np.int64))
    whole = Spell("air", float(motion.time_s[0]), float(motion.time_s[-1]))
    flights = find_flights(motion, air, (whole,), PARAGLIDER)
    assert len(flights) == 2
    assert flights[0].ends_in_air
    assert flights[1].starts_in_air


def test_gnss_heights_say_low_confidence():
    path, _, liftoff_s, touchdown_s = day()
    motion, air = observed(path, wind=WIND, source="gnss")
    (flight,) = find_flights(motion, air, spells(motion, liftoff_s, touchdown_s), PARAGLIDER)
    assert "times_from_gnss" in {note.code for note in flight.notes}


def test_usual_airspeed_weighs_the_flight_against_the_class():
    motion, air = observed(fly([Leg(600, 9.0)], wind=WIND), wind=WIND)
    first, last = float(motion.time_s[0]), float(motion.time_s[-1])
    seen = usual_airspeed(motion, air, first, last, PARAGLIDER)
    expected = PARAGLIDER.trim_airspeed_mps * (1.225 / 1.11) ** 0.5
    assert 9.0 < seen.airspeed_mps < expected
    assert seen.sd_mps < PARAGLIDER.trim_airspeed_sd_mps
    motion, air = observed(fly([Leg(600, 9.0)], wind=WIND), wind=None)
    assert usual_airspeed(motion, air, first, last, PARAGLIDER).airspeed_mps == pytest.approx(expected)
