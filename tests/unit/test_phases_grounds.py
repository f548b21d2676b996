"""Pieces of ground: from the user's places, or from the log's own take-offs and touchdowns."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.phases.grounds import find_grounds
from flightlog.phases.phases import FlightSpan
from flightlog.places import Place
from flightlog.settings import PARAGLIDER
from tests.unit.synthetic_motion import Leg, fly, observed


@pytest.fixture(name="log")
def two_flights():
    """Off the top, back to it 33 m away; off again and down to the valley, 180 m lower and 3 km out."""
    legs = [
        Leg(60, 0.0, on_foot=True), Leg(30, 10.0, 1.0), Leg(30, 10.0, -1.0, turn_degps=6.0), Leg(30, 10.0, 0.0),
        Leg(60, 0.0, on_foot=True), Leg(300, 10.0, -0.6, heading_deg=0.0), Leg(60, 0.0, on_foot=True),
    ]  # fmt: skip
    path = fly(legs)
    motion, _ = observed(path)
    starts = path.leg_starts_s
    spans = tuple(
        FlightSpan(n, a, a, b, False, False, 0.5, 0.5, *np.searchsorted(motion.time_s, [a, b]).tolist())
        for n, a, b in ((1, starts[1], starts[4]), (2, starts[5], starts[6]))
    )
    return motion, spans


def place(motion, index, name, use, radius_m=60.0, raised_m=0.0):
    lat, lon = motion.plane.to_degrees(motion.east_m[index : index + 1], motion.north_m[index : index + 1])
    elevation = float(motion.altitude_m[index]) + raised_m
    return Place(name, float(lat[0]), float(lon[0]), elevation, radius_m, use)


def test_without_places_take_offs_make_top_landing_grounds_and_the_valley_does_not(log):
    motion, spans = log
    grounds = find_grounds(motion, spans, (), PARAGLIDER)
    tops = [ground for ground in grounds if "top_landing" in ground.use]
    valley = [ground for ground in grounds if "top_landing" not in ground.use]
    assert sorted(number for ground in tops for number in ground.takeoffs) == [1, 2]
    assert [number for ground in tops for number in ground.landings] == [1]
    assert [ground.landings for ground in valley] == [(2,)]
    assert valley[0].level_m[0] == pytest.approx(1000.0 - 180.0, abs=1.0)


def test_a_place_takes_its_level_from_the_log_not_from_the_file(log):
    motion, spans = log
    top = place(motion, 10, "Top", ("launch", "top_landing"), radius_m=400.0, raised_m=7.0)
    (ground,) = find_grounds(motion, spans, (top,), PARAGLIDER)
    assert ground.level_m == pytest.approx([1000.0] * len(ground.level_m), abs=0.5)
    assert ground.landings == (1,)
    assert ground.takeoffs == (1, 2)


def test_an_untouched_place_is_shifted_as_the_touched_one_is(log):
    motion, spans = log
    top = place(motion, 10, "Top", ("launch",), radius_m=400.0, raised_m=7.0)
    other = Place("Other", top.lat_deg + 0.05, top.lon_deg, 1207.0, 100.0, ("top_landing",))
    ground = find_grounds(motion, spans, (top, other), PARAGLIDER)[1]
    assert ground.level_at(np.array([motion.time_s[50]]))[0] == pytest.approx(1200.0, abs=0.5)
    assert ground.landings == ()
    assert ground.level_sd_m > 1.0


def test_touchdowns_tell_the_level_where_the_launch_lies_lower(log):
    """A launch 90 m off the landing meadow and 8 m below it is one ground with it, at the meadow's height."""
    legs = [
        Leg(60, 0.0, on_foot=True), Leg(30, 10.0, 1.0), Leg(10, 10.0, -1.0, turn_degps=18.0), Leg(24, 10.0, -0.5),
        Leg(60, 0.0, on_foot=True),
    ]  # fmt: skip
    path = fly(legs)
    motion, _ = observed(path)
    a, b = path.leg_starts_s[1], path.leg_starts_s[4]
    spans = (FlightSpan(1, a, a, b, False, False, 0.5, 0.5, *np.searchsorted(motion.time_s, [a, b]).tolist()),)
    (ground,) = find_grounds(motion, spans, (), PARAGLIDER)
    assert (ground.takeoffs, ground.landings) == ((1,), (1,))
    assert ground.level_m == pytest.approx([1008.0], abs=0.5)
    landed_and_left = next(ground for ground in find_grounds(*log, (), PARAGLIDER) if ground.landings == (1,))
    assert len(landed_and_left.level_m) == 2  # a relaunch from the same spot still follows the pressure


def test_a_top_landing_beside_its_place_counts_but_gives_no_level(log):
    motion, spans = log
    index = int(np.searchsorted(motion.time_s, spans[0].touchdown_s))
    beside = place(motion, index, "Top", ("top_landing",), radius_m=40.0)
    moved = Place("Top", beside.lat_deg + 0.0015, beside.lon_deg, beside.elevation_m, 40.0, ("top_landing",))
    (ground,) = find_grounds(motion, spans[:1], (moved,), PARAGLIDER)
    assert ground.landings == (1,)
    assert ground.level_sd_m > 1.0
    far = Place("Top", beside.lat_deg + 0.004, beside.lon_deg, beside.elevation_m, 40.0, ("top_landing",))
    assert find_grounds(motion, spans[:1], (far,), PARAGLIDER)[0].landings == ()


def test_a_landing_field_wins_over_a_top_landing_beside_it(log):
    motion, spans = log
    index = int(np.searchsorted(motion.time_s, spans[0].touchdown_s))
    field = place(motion, index, "Field", ("landing",))
    top = Place("Top", field.lat_deg + 0.001, field.lon_deg, field.elevation_m, 40.0, ("top_landing",))
    grounds = find_grounds(motion, spans[:1], (field, top), PARAGLIDER)
    assert [ground.landings for ground in grounds] == [(1,), ()]
