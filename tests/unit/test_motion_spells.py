"""Ground, air or vehicle, on invented days."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from flightlog.motion.cleaning import clean_motion
from flightlog.motion.spells import find_spells
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import EPOCH_S, Mover, changed, flight, picked, track_of


def spells_of(track):
    motion = clean_motion(track, UNKNOWN_WING)
    spells = find_spells(motion, UNKNOWN_WING)
    assert spells[0].start_s == motion.time_s[0]
    assert spells[-1].end_s == motion.time_s[-1]
    for before, after in pairwise(spells):
        assert before.end_s == after.start_s
        assert before.kind != after.kind
    return spells


def kinds(spells):
    return [spell.kind for spell in spells]


@pytest.mark.parametrize("wind", [(0.0, 0.0), (4.0, 3.0), (-6.0, 0.0)])
@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
def test_one_flight(interval_s, wind):
    path, liftoff, touchdown = flight(wind=wind, gust=0.8 if wind[0] < 0 else 0.5)
    spells = spells_of(track_of(path, interval_s))
    assert kinds(spells) == ["ground", "air", "ground"]
    assert spells[1].start_s - EPOCH_S == pytest.approx(liftoff, abs=4.0)
    assert spells[1].end_s - EPOCH_S == pytest.approx(touchdown, abs=5.0)
    assert spells[1].sure


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0, 5.0])
def test_lifting_off_into_a_wind_of_eight_metres_a_second(interval_s):
    """2 m/s over the ground for a minute and a half after lift-off: told from walking by the shaking."""
    path, liftoff, touchdown = flight(wind=(-8.0, 0.0), gust=0.8)
    spells = spells_of(track_of(path, interval_s))
    assert kinds(spells) == ["ground", "air", "ground"]
    assert spells[1].start_s - EPOCH_S == pytest.approx(liftoff, abs=4.0)
    assert spells[1].end_s - EPOCH_S == pytest.approx(touchdown, abs=5.0)


@pytest.mark.parametrize("airspeed", [8.0, 10.0, 14.0, 18.0])
def test_every_wing(airspeed):
    path, _, _ = flight(wind=(4.0, 0.0), airspeed=airspeed)
    assert kinds(spells_of(track_of(path))) == ["ground", "air", "ground"]


def test_gnss_heights_alone_are_less_sure():
    path, _, _ = flight()
    spells = spells_of(track_of(path, pressure=False))
    assert kinds(spells) == ["ground", "air", "ground"]
    assert not spells[1].sure


def test_no_heights_at_all():
    path, _, _ = flight()
    assert kinds(spells_of(track_of(path, pressure=False, gnss=False))) == ["ground", "air", "ground"]


def parked(seconds=180.0):
    """Fly, hang over one place against a wind of 10 m/s, fly on, land."""
    mover = Mover(5)
    mover.move(100.0).move(2.0, 1.0)
    mover.move(120.0, 10.0, 0.5, 0.0, (0.0, -4.0), 0.8)
    mover.move(seconds, 10.0, 0.0, 0.0, (0.0, -10.0), 0.8)
    mover.move(120.0, 10.0, -1.0, 0.0, (0.0, -4.0), 0.45)
    return mover.move(100.0).path()


def test_hanging_over_one_place_in_the_wind_is_flying():
    assert kinds(spells_of(track_of(parked()))) == ["ground", "air", "ground"]


def test_a_top_landing_and_relaunch_are_two_flights():
    mover = Mover(6)
    for _ in range(2):
        mover.move(90.0).move(2.0, 1.0)
        mover.move(100.0, 10.0, 1.0, 5.0, (0.0, -5.0), 0.5).move(100.0, 10.0, -1.0, -5.0, (0.0, -5.0), 0.5)
    spells = spells_of(track_of(mover.move(90.0).path()))
    assert kinds(spells) == ["ground", "air", "ground", "air", "ground"]


def test_a_landing_and_relaunch_within_a_minute_are_two_flights():
    """Stand four seconds, walk back, run again: what a stop of half a minute on top looks like."""
    mover = Mover(14)
    mover.move(90.0).move(2.0, 1.0)
    mover.move(100.0, 10.0, 1.0, 5.0, (0.0, -5.0), 0.5).move(70.0, 10.0, -1.2, -5.0, (0.0, -5.0), 0.5)
    mover.heading = 0.0
    mover.move(25.0, 8.0, -1.3, 0.0, (0.0, -5.0), 0.2)
    touchdown = mover.now
    mover.move(5.0)
    mover.heading = np.pi
    mover.move(24.0, 1.3, -0.1).move(8.0)
    relaunch = mover.now
    mover.heading = 0.0
    mover.move(2.0, np.linspace(0.5, 3.5, 20))
    mover.move(100.0, 9.0, 1.5, 5.0, (0.0, -5.0), 0.5).move(100.0, 10.0, -1.0, -5.0, (0.0, -5.0), 0.5)
    spells = spells_of(track_of(mover.move(90.0).path()))
    assert kinds(spells) == ["ground", "air", "ground", "air", "ground"]
    assert spells[2].start_s - EPOCH_S == pytest.approx(touchdown, abs=4.0)
    assert spells[2].end_s - EPOCH_S == pytest.approx(relaunch, abs=5.0)


@pytest.mark.parametrize(("over_ground", "climb"), [(0.8, -0.5), (0.8, 0.6), (2.7, 0.0), (2.7, -0.5), (2.7, 0.6)])
def test_creeping_into_the_wind_after_lift_off_is_flying(over_ground, climb):
    """A minute of slow flight beside the launch; level at walking pace it cannot be told from walking."""
    mover = Mover(15)
    wind = (0.0, over_ground - 10.0)
    mover.move(120.0).move(2.0, np.linspace(0.3, over_ground, 20))
    liftoff = mover.now
    mover.move(70.0, 10.0, climb, 0.0, wind, 0.5).move(90.0, 10.0, 1.0, 8.0, (0.0, -5.0), 0.5)
    mover.move(120.0, 10.0, -1.0, 0.0, (0.0, -5.0), 0.4).move(120.0)
    spells = spells_of(track_of(mover.path()))
    assert kinds(spells) == ["ground", "air", "ground"]
    assert spells[1].start_s - EPOCH_S == pytest.approx(liftoff, abs=6.0)


def test_sinking_into_the_wind_at_walking_pace_ends_with_the_first_stand():
    """100 s at 1.3 m/s over the ground and 0.4 m/s down look like a walk downhill: but nobody stood."""
    mover = Mover(16)
    mover.move(120.0).move(2.0, np.linspace(0.5, 5.0, 20))
    mover.move(120.0, 10.0, 1.0, 8.0, (0.0, -5.0), 0.5)
    mover.heading = 0.0
    mover.move(100.0, 10.0, -0.4, 0.0, (0.0, -8.7), 0.15)
    touchdown = mover.now
    spells = spells_of(track_of(mover.move(150.0).path()))
    assert kinds(spells) == ["ground", "air", "ground"]
    assert spells[1].end_s - EPOCH_S == pytest.approx(touchdown, abs=5.0)


def test_walking_away_after_a_stop_is_no_flight():
    path, _, touchdown = flight(seed=17)
    mover = Mover(17)
    mover.pieces, mover.now, mover.state = [path.rows], float(path.rows[-1, 0]), path.rows[-1, 1:].copy()
    mover.move(120.0, 1.3, -0.35).move(60.0)
    spells = spells_of(track_of(mover.path()))
    assert kinds(spells) == ["ground", "air", "ground"]
    assert spells[1].end_s - EPOCH_S == pytest.approx(touchdown, abs=5.0)


def test_a_drive_up_a_hill_with_traffic_stops_is_no_flight():
    """Climbing at up to 1.4 m/s, standing now and then: its height keeps to the road."""
    path, _, touchdown = flight(seed=18)
    mover = Mover(18)
    mover.pieces, mover.now, mover.state = [path.rows], float(path.rows[-1, 0]), path.rows[-1, 1:].copy()
    for k in range(8):
        mover.move(10.0, np.linspace(0.0, 14.0, 100), np.linspace(0.0, 1.2, 100))
        mover.move(30.0, 14.0, 1.2 * (-1) ** (k // 3), 2.0 * (-1) ** k)
        mover.move(6.0, np.linspace(14.0, 0.0, 60), np.linspace(1.2, 0.0, 60)).move(8.0)
    spells = spells_of(track_of(mover.move(30.0).path()))
    assert kinds(spells)[:3] == ["ground", "air", "ground"]
    assert kinds(spells).count("air") == 1
    assert spells[1].end_s - EPOCH_S == pytest.approx(touchdown, abs=5.0)


def test_a_recorder_that_freezes_while_it_stands_shows_standing():
    """Some receivers hold position and height dead still below walking pace."""
    path, liftoff, touchdown = flight()
    track = track_of(path, 2.0, pressure=False)
    t = track.time_s - EPOCH_S
    columns = [np.array(c) for c in (track.latitude_deg, track.longitude_deg, track.gnss_altitude_m)]
    for column in columns:
        column[t < liftoff - 6] = column[0]
        column[t > touchdown + 4] = column[-1]
    lat, lon, heights = columns
    spells = spells_of(changed(track, lat=lat, lon=lon, gnss_m=heights))
    assert kinds(spells) == ["ground", "air", "ground"]


def test_a_drive_up_a_mountain_road_is_no_flight():
    rng = np.random.default_rng(12)
    mover = Mover(12)
    mover.move(120.0)
    for k in range(20):
        fast, grade = rng.uniform(7.0, 15.0), rng.uniform(0.04, 0.1)
        speeds_up, slows = np.linspace(5.0, fast, 50), np.linspace(fast, 5.0, 40)
        mover.move(5.0, speeds_up, speeds_up * grade).move(
            rng.uniform(8, 25), fast, fast * grade, rng.normal(0, 3)
        )
        mover.move(4.0, slows, slows * grade).move(6.0, 5.0, 5.0 * grade, 30.0 * (-1) ** k)
    assert "air" not in kinds(spells_of(track_of(mover.move(300.0).path())))


@pytest.mark.parametrize(
    ("interval_s", "off_s", "airspeed"), [(2.0, 1.0, 14.0), (4.0, 2.0, 16.0), (5.0, 2.5, 14.0)]
)
def test_circling_is_flying_however_ill_its_times_were_recorded(interval_s, off_s, airspeed):
    """Times off by so much make the speed of a wing waver like that of a car; no road leads round and round."""
    path, liftoff, touchdown = flight(airspeed=airspeed)
    times = np.arange(path.time_s[0] + 3.0, path.time_s[-1] - 3.0, interval_s)
    shifted = times + np.random.default_rng(4).uniform(-off_s, off_s, len(times))
    track = changed(track_of(path, times=shifted), time_s=EPOCH_S + times)
    spells = spells_of(track)
    assert kinds(spells) == ["ground", "air", "ground"]
    assert spells[1].start_s - EPOCH_S == pytest.approx(liftoff, abs=8.0)
    assert spells[1].end_s - EPOCH_S == pytest.approx(touchdown, abs=8.0)


def test_walking_up_the_hill_is_no_flight():
    mover = Mover(7)
    mover.move(60.0)
    for k in range(10):
        mover.move(50.0, 1.2, 0.25, 10.0 * (-1) ** k).move(20.0)
    assert kinds(spells_of(track_of(mover.path()))) == ["ground"]


def test_running_with_the_wing_without_lifting_off_is_no_flight():
    mover = Mover(8)
    mover.move(120.0)
    for _ in range(6):
        mover.move(5.0, np.linspace(0.5, 5.0, 50), -0.4).move(40.0).move(30.0, 1.0, 0.06)
    assert kinds(spells_of(track_of(mover.path()))) == ["ground"]


def drive(mover, seconds):
    for k in range(int(seconds // 40)):
        mover.move(8.0, np.linspace(0.0, 14.0, 80)).move(20.0, 14.0, 0.2 * (-1) ** k, 3.0 * (-1) ** k)
        mover.move(6.0, np.linspace(14.0, 0.0, 60)).move(6.0)
    return mover


def test_driving_home_is_no_second_flight():
    path_mover = Mover(9)
    path_mover.move(100.0).move(2.0, 1.0)
    path_mover.move(150.0, 10.0, 0.8, 22.0, (0.0, -4.0), 0.5).move(150.0, 10.0, -1.0, 0.0, (0.0, -4.0), 0.5)
    path_mover.move(200.0)
    spells = spells_of(track_of(drive(path_mover, 400.0).path()))
    assert kinds(spells)[:3] == ["ground", "air", "ground"]
    assert kinds(spells)[3] == "vehicle"
    assert kinds(spells).count("air") == 1


def test_a_cable_car_up_is_no_flight():
    mover = Mover(10)
    mover.move(120.0).move(300.0, 5.5, 2.5, 0.0, (0.0, 0.0), 0.05).move(120.0)
    assert "air" not in kinds(spells_of(track_of(mover.path())))


def test_a_smooth_glide_down_in_calm_air_is_a_flight():
    mover = Mover(11)
    mover.move(120.0).move(3.0, np.linspace(0.5, 9.0, 30))
    for k in range(5):
        mover.move(60.0, 10.0, -1.1, 0.0, (0.0, 0.0), 0.08).move(5.0, 10.0, -1.3, 20.0 * (-1) ** k)
    assert kinds(spells_of(track_of(mover.move(120.0).path()))) == ["ground", "air", "ground"]


def test_a_log_that_starts_and_ends_in_the_air():
    path, liftoff, touchdown = flight()
    times = np.arange(liftoff + 60.0, touchdown - 60.0)
    assert kinds(spells_of(track_of(path, times=times))) == ["air"]


def test_a_gap_on_the_ground_and_one_in_the_air():
    path, liftoff, _ = flight()
    track = track_of(path)
    t = np.arange(len(track.time_s))
    silent = ((t > 40) & (t < 90)) | ((t > liftoff + 150) & (t < liftoff + 200))
    assert kinds(spells_of(picked(track, np.flatnonzero(~silent)))) == ["ground", "air", "ground"]


def test_spells_turn_with_the_compass_and_shift_with_the_clock():
    """Mirrored and later: the same spells."""
    path, _, _ = flight()
    track = track_of(path, noise_m=0.5)
    path.rows[:, 1] *= -1.0
    mirrored = spells_of(track_of(path, noise_m=0.5))
    for one, other in zip(spells_of(track), mirrored, strict=True):
        assert one.start_s == pytest.approx(other.start_s, abs=2.0)
