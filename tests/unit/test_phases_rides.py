"""Rides home after the flight: roads, rails, cables and feet are no second flight; a second flight stays one."""

from __future__ import annotations

import numpy as np
import pytest

import flightlog
from flightlog.motion.cleaning import clean_motion
from flightlog.motion.interpolation import motion_at
from flightlog.phases.rides import pace_changes_mps2
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import EPOCH_S, Mover, flight, track_of

WIND = (3.0, 0.0)


def landed(seed):
    """Ten minutes of flight in a wind of 3 m/s, landing, three minutes of packing up."""
    path, _, _ = flight(seed, WIND)
    mover = Mover(seed)
    mover.pieces, mover.now, mover.state = [path.rows], float(path.rows[-1, 0]), path.rows[-1, 1:].copy()
    return mover.move(60.0)


def valley_road(mover, rng):
    """Bends, villages at 8 m/s, 20 m/s between them, a stop here and there; level but for small waves."""
    speed = 0.0
    for _ in range(10):
        wanted = rng.choice([0.0, 8.0, 14.0, 20.0])
        mover.move(6.0, np.linspace(speed, wanted, 60), rng.normal(0, 0.1), rng.normal(0, 4))
        mover.move(
            rng.uniform(10, 40) if wanted else 9.0, wanted, 0.02 * wanted * rng.normal(), rng.normal(0, 1.0)
        )
        speed = wanted
    mover.move(5.0, np.linspace(speed, 0.0, 50))


def mountain_road(mover, rng):
    """Down hairpins at 8 % without a stop: as steep as a glide."""
    for k in range(12):
        fast = rng.uniform(7.0, 15.0)
        up, down = np.linspace(4.0, fast, 40), np.linspace(fast, 4.0, 40)
        mover.move(4.0, up, -0.08 * up).move(rng.uniform(6, 20), fast, -0.08 * fast, rng.normal(0, 2))
        mover.move(4.0, down, -0.08 * down).move(7.0, 4.0, -0.3, 26.0 * (-1) ** k)


def shuttle(mover, rng):
    """Up steep meadows in short legs between hairpins, without a stop: all in one place, as soaring is."""
    speed = 3.0
    for k in range(12):
        fast = rng.uniform(8.0, 14.0)
        up, down = np.linspace(speed, fast, round((fast - speed) / 0.15)), np.linspace(fast, 4.0, 40)
        mover.move(0.1 * len(up), up, 0.1 * up).move(rng.uniform(4, 14), fast, 0.1 * fast, rng.normal(0, 2))
        mover.move(4.0, down, 0.1 * down).move(7.0, 4.0, 0.3, 25.5 * (-1) ** k)
        speed = 4.0
    mover.move(3.0, np.linspace(speed, 0.0, 30))


def farm_track(mover, rng):
    """Bumping along at 3 to 8 m/s without a stop, up and down a little: slower than any wing."""
    speed = 0.0
    for _ in range(22):
        wanted, grade = rng.uniform(3.0, 8.0), rng.normal(0, 0.04)
        change = np.linspace(speed, wanted, max(5, round(10.0 * abs(wanted - speed))))
        mover.move(0.1 * len(change), change, grade * change)
        mover.move(rng.uniform(3, 12), wanted, grade * wanted, rng.normal(0, 6))
        speed = wanted
    mover.move(4.0, np.linspace(speed, 0.0, 40))


def forest_track(mover, rng):
    """Up to the launch at 14 % for ten minutes and more, hairpins and hardly a stop: steeper than roads are."""
    speed = 0.0
    for k in range(26):
        wanted = rng.uniform(3.0, 9.0)
        change = np.linspace(speed, wanted, max(5, round(10.0 * abs(wanted - speed) / 1.5)))
        mover.move(0.1 * len(change), change, 0.14 * change)
        mover.move(rng.uniform(10, 25), wanted, 0.14 * wanted, rng.normal(0, 1.5))
        mover.move(7.0, 4.0, 0.5, 24.0 * (-1) ** k)
        speed = 4.0
    mover.move(4.0, np.linspace(speed, 0.0, 40))


def main_road(mover, rng):
    """Twenty minutes at 25 m/s, hardly a bend, no stop."""
    mover.move(15.0, np.linspace(0.0, 25.0, 150))
    for _ in range(20):
        mover.move(60.0, 25.0 + rng.normal(0, 1.0), rng.normal(0, 0.25), rng.normal(0, 0.3))
    mover.move(10.0, np.linspace(25.0, 0.0, 100))


def train(mover, rng):
    """Up to 30 m/s on straight level track, a station every three minutes."""
    for _ in range(4):
        mover.move(40.0, np.linspace(0.0, 30.0, 400)).move(100.0, 30.0, rng.normal(0, 0.15), rng.normal(0, 0.2))
        mover.move(40.0, np.linspace(30.0, 0.0, 400)).move(50.0)


def chair_lift(mover, _):
    """Straight up at 2.5 m/s, evenly."""
    mover.move(400.0, 2.5, 0.9, 0.0, (0.0, 0.0), 0.03)


def cable_car(mover, _):
    """Straight up at 9 m/s along the rope, slower over the one support."""
    mover.move(10.0, np.linspace(0.0, 8.0, 100), np.linspace(0.0, 4.0, 100)).move(
        90.0, 8.0, 4.0, 0.0, (0, 0), 0.04
    )
    mover.move(10.0, 5.0, 2.4).move(90.0, 8.0, 4.0, 0.0, (0, 0), 0.04).move(8.0, np.linspace(8.0, 0.0, 80))


def walk_down(mover, _):
    """Quickly down a steep path."""
    for k in range(12):
        mover.move(40.0, 1.7, -0.45, 12.0 * (-1) ** k)


RIDES = [
    valley_road,
    mountain_road,
    shuttle,
    farm_track,
    forest_track,
    main_road,
    train,
    chair_lift,
    cable_car,
    walk_down,
]


@pytest.mark.parametrize("ride", RIDES, ids=lambda ride: ride.__name__)
@pytest.mark.parametrize(("interval_s", "pressure"), [(1.0, True), (4.0, True), (2.0, False)])
def test_a_ride_home_is_no_flight(ride, interval_s, pressure):
    mover = landed(31)
    end = mover.now
    ride(mover, np.random.default_rng(31))
    track = track_of(mover.move(60.0).path(), interval_s, pressure=pressure)
    (found,) = flightlog.debrief(track).flights
    assert found.landing.time.timestamp() - track.time_s[0] < end


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_a_shuttle_is_no_flight_whatever_its_driver_and_the_recorder(seed):
    mover = landed(seed)
    mover.heading = 2.0 * seed
    end = mover.now
    shuttle(mover, np.random.default_rng(seed))
    track = track_of(mover.move(60.0).path(), (1.0, 2.0, 4.0)[seed % 3], seed=seed)
    (found,) = flightlog.debrief(track).flights
    assert found.landing.time.timestamp() - track.time_s[0] < end


@pytest.mark.parametrize("interval_s", [1.0, 4.0])
def test_soaring_in_one_place_in_another_wind_is_a_flight(interval_s):
    """The wind has turned by a right angle and freshened since the flight that tells what is usual."""
    mover = landed(35)
    wind, side = (0.0, -6.5), 1
    mover.heading = 0.0
    mover.move(3.0, np.linspace(0.5, 3.5, 30))
    for _ in range(9):
        mover.heading = side * 1.1
        mover.move(22.0, 10.0, 0.1, 0.0, wind, 0.5).move(6.0, 10.0, -0.6, -21.0 * side, wind, 0.5)
        side = -side
    mover.heading = 0.0
    mover.move(15.0, 10.0, -1.0, 0.0, wind, 0.4)
    mover.move(2.0, np.linspace(2.0, 0.2, 20)).move(90.0)
    assert len(flightlog.debrief(track_of(mover.path(), interval_s)).flights) == 2


def moved(mover):
    """What the mover did, each second, known without error."""
    path = mover.path()
    return motion_at(
        clean_motion(track_of(path, noise_m=0.0), UNKNOWN_WING), EPOCH_S + np.arange(5.0, mover.now - 5)
    )


def test_turns_in_wind_change_the_speed_but_not_on_a_straight_course():
    """10 m/s through air that moves at 6: from 4 to 16 m/s over the ground in every circle."""
    samples = moved(Mover(1).move(300.0, 10.0, 0.0, 12.0, (6.0, 0.0)))
    speed = np.hypot(samples.velocity_east_mps, samples.velocity_north_mps)
    assert np.ptp(speed) > 11.0
    assert pace_changes_mps2(samples, 1.0) < 0.3


def test_braking_and_speeding_up_are_seen_at_their_size():
    mover = Mover(1)
    for _ in range(12):
        mover.move(10.0, np.linspace(4.0, 16.0, 100)).move(10.0, np.linspace(16.0, 4.0, 100))
    assert pace_changes_mps2(moved(mover), 1.0) == pytest.approx(1.2, abs=0.15)


@pytest.mark.parametrize("interval_s", [1.0, 4.0])
def test_a_short_second_flight_down_the_hill_is_one(interval_s):
    """A minute and a half straight down at glide ratio 9: as steep as a road, but at one airspeed."""
    mover = landed(33)
    mover.heading = float(np.arctan2(-WIND[0], -WIND[1]))
    mover.move(3.0, np.linspace(0.5, 7.0, 30)).move(90.0, 10.0, -1.1, 0.0, WIND, 0.4)
    mover.move(2.0, np.linspace(2.0, 0.2, 20)).move(90.0)
    assert len(flightlog.debrief(track_of(mover.path(), interval_s)).flights) == 2
