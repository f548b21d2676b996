"""Odd fixes out, gaps marked, the rest smoothed: each oddity by the smallest log that shows it."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.errors import TrackFileError
from flightlog.motion.cleaning import clean_motion
from flightlog.motion.kinematics import climb_sd_mps, velocity_sd_mps
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import EPOCH_S, ORIGIN, changed, flight, picked, raw_track, track_of

PATH, LIFTOFF, TOUCHDOWN = flight()


def cleaned(track):
    return clean_motion(track, UNKNOWN_WING)


def codes(motion):
    return {note.code: note for note in motion.notes}


def speed_error(motion, path=PATH, start=LIFTOFF + 5, stop=TOUCHDOWN - 5):
    """Root mean square error of the velocity vector in flight."""
    t = motion.time_s - EPOCH_S
    flying = (t > start) & (t < stop)
    east = motion.velocity_east_mps - path.velocity_at(t, 1)
    north = motion.velocity_north_mps - path.velocity_at(t, 2)
    return float(np.sqrt((east**2 + north**2)[flying].mean()))


@pytest.mark.parametrize(("interval_s", "limit"), [(0.2, 0.8), (0.5, 0.8), (1.0, 0.9), (2.0, 1.2), (3.0, 1.9)])
def test_velocity_at_every_interval(interval_s, limit):
    """The errors that the table of methods measured for circling and straight flight, at most."""
    motion = cleaned(track_of(PATH, interval_s))
    assert motion.interval_s == pytest.approx(interval_s)
    assert speed_error(motion) < limit
    assert motion.notes == ()


@pytest.mark.parametrize("interval_s", [0.2, 1.0, 2.0])
def test_standard_deviations_cover_the_errors(interval_s):
    inside = []
    for seed in range(3):
        motion = cleaned(track_of(PATH, interval_s, seed=seed))
        t = motion.time_s - EPOCH_S
        error = motion.velocity_east_mps - PATH.velocity_at(t, 1)
        inside.append(np.mean(np.abs(error) < 1.96 * velocity_sd_mps(motion, UNKNOWN_WING)))
        climb_error = motion.climb_mps - PATH.velocity_at(t, 3)
        assert np.mean(np.abs(climb_error) < 1.96 * climb_sd_mps(motion, UNKNOWN_WING)) > 0.9
    assert 0.9 < np.mean(inside) <= 1.0


def test_standing_still_at_five_hertz_is_not_moving():
    """The rounded position jumps by 1.9 m between two steps of the grid; the pilot does not run about."""
    t = np.arange(0, 120, 0.2)
    rng = np.random.default_rng(2)
    lat, lon = ORIGIN.to_degrees(rng.normal(0, 0.5, len(t)), rng.normal(0, 0.5, len(t)))
    lat, lon = np.round(lat * 60000) / 60000, np.round(lon * 60000) / 60000
    motion = cleaned(raw_track(EPOCH_S + t, lat, lon, np.full(len(t), 500.0), np.full(len(t), 510.0)))
    assert np.hypot(motion.velocity_east_mps, motion.velocity_north_mps).max() < 1.0


def test_spikes_are_left_out_and_counted():
    track = track_of(PATH)
    lat = track.latitude_deg.copy()
    for k in (100, 300, 301, 500):
        lat[k] += 300 / 111_000
    motion = cleaned(changed(track, lat=lat))
    assert codes(motion)["spike"].count == 4
    assert codes(motion)["spike"].line == 101
    assert not set(motion.fix.tolist()) & {100, 300, 301, 500}
    assert speed_error(motion) < 0.9


def test_tight_circles_at_two_seconds_are_no_spikes():
    mover_path, _, _ = flight(airspeed=13.0)
    assert "spike" not in codes(cleaned(track_of(mover_path, 2.0)))


def test_duplicates_and_their_places_in_the_file():
    track = track_of(PATH)
    index = np.insert(np.arange(len(track.time_s)), [50, 200, 200], [49, 199, 199])
    motion = cleaned(picked(track, index))
    assert codes(motion)["duplicate_time"].count == 3
    assert len(motion.fix) == len(track.time_s)


def test_a_block_recorded_twice_is_used_once():
    track = track_of(PATH)
    index = np.concatenate([np.arange(400), np.arange(350, len(track.time_s))])
    motion = cleaned(picked(track, index))
    assert codes(motion)["backward_time"].count == 50
    assert (np.diff(motion.time_s) > 0).all()
    assert len(motion.fix) == len(track.time_s)
    assert motion.piece[-1] == 0
    assert speed_error(motion) < 0.9


def test_a_clock_set_back_two_seconds_makes_no_burst_of_speed():
    track = track_of(PATH)
    time_s = track.time_s.copy()
    time_s[400:] -= 2.0
    motion = cleaned(changed(track, time_s=time_s))
    assert codes(motion)["backward_time"].count in (2, 3)
    speed = np.hypot(motion.velocity_east_mps, motion.velocity_north_mps)
    assert speed.max() < 18.0


def test_one_time_far_ahead_costs_one_fix():
    track = track_of(PATH)
    time_s = track.time_s.copy()
    time_s[300] += 86400.0
    motion = cleaned(changed(track, time_s=time_s))
    assert len(motion.fix) == len(track.time_s) - 1


def test_recordings_joined_in_the_wrong_order_come_right():
    track = track_of(PATH)
    count, half = len(track.time_s), 300
    index = np.concatenate([np.arange(half, count), np.arange(half)])
    segment = np.concatenate([np.zeros(count - half), np.ones(half)])
    motion = cleaned(changed(picked(track, index), segment=segment))
    assert len(motion.fix) == count
    assert (np.diff(motion.time_s) > 0).all()


def test_frozen_positions_in_flight_go_those_after_landing_stay():
    track = track_of(PATH)
    flying = int(LIFTOFF) + 30
    lat, lon = track.latitude_deg.copy(), track.longitude_deg.copy()
    lat[flying : flying + 6], lon[flying : flying + 6] = lat[flying], lon[flying]
    standing = int(TOUCHDOWN) + 4
    lat[standing:], lon[standing:] = lat[standing], lon[standing]
    motion = cleaned(changed(track, lat=lat, lon=lon))
    assert codes(motion)["stale_fix"].count == 5
    assert set(range(flying + 1, flying + 6)).isdisjoint(motion.fix.tolist())
    assert motion.fix[-1] == len(track.time_s) - 1


def test_a_silence_starts_a_new_piece_and_is_not_bridged():
    track = track_of(PATH)
    index = np.concatenate([np.arange(300), np.arange(330, len(track.time_s))])
    motion = cleaned(picked(track, index))
    assert codes(motion)["gap"].count == 1
    assert codes(motion)["gap"].line == 301
    assert motion.piece[299] == 0
    assert motion.piece[300] == 1


def test_a_slow_recorder_has_no_gaps_but_a_note():
    motion = cleaned(track_of(PATH, 10.0))
    assert motion.piece[-1] == 0
    assert set(codes(motion)) == {"slow_recording"}


def test_fixes_at_zero_zero_and_without_place_are_left_out():
    track = track_of(PATH)
    lat, lon = track.latitude_deg.copy(), track.longitude_deg.copy()
    lat[:5], lon[:5] = 0.0, 0.0
    lat[40] = np.nan
    motion = cleaned(changed(track, lat=lat, lon=lon))
    assert codes(motion)["no_position"].count == 6
    assert motion.fix[0] == 5


def test_a_jump_to_another_country_and_back_is_left_out():
    track = track_of(PATH)
    lat = track.latitude_deg.copy()
    lat[200:208] += 3.0
    motion = cleaned(changed(track, lat=lat))
    assert codes(motion)["spike"].count == 8
    assert np.hypot(motion.east_m, motion.north_m).max() < 20_000


def test_too_few_fixes_are_an_error_with_advice():
    with pytest.raises(TrackFileError, match=r"9 usable fixes of 9; at least 10"):
        cleaned(picked(track_of(PATH), np.arange(9)))


def test_across_the_date_line():
    track = track_of(PATH)
    lon = (track.longitude_deg - 7.4 + 180.0 + 180.0) % 360.0 - 180.0
    motion = cleaned(changed(track, lon=lon))
    assert speed_error(motion) < 0.9
    assert abs(abs(motion.plane.origin_lon_deg) - 180.0) < 0.2


def test_velocities_are_true_east_and_north_far_from_the_middle():
    """A straight flight due true north, 200 km east of where most fixes lie: the plane's north leans there."""
    t = np.arange(0.0, 2000.0)
    lat, lon = np.full(2000, 47.0), np.full(2000, 9.0)
    lat[1200:], lon[1200:] = 47.0 + (t[1200:] - 1200.0) * 10.0 / 111_178.0, 11.6
    time_s = EPOCH_S + t + np.where(t >= 1200, 20_000.0, 0.0)
    motion = cleaned(raw_track(time_s, lat, lon, 1000 + t * 0, None))
    late = slice(1300, 1900)
    assert np.abs(motion.velocity_east_mps[late]).max() < 0.02
    assert motion.velocity_north_mps[late] == pytest.approx(10.0, abs=0.02)


def test_numbers_that_come_from_nowhere_do_not_raise():
    """Any times, places and heights at all: a Motion or a TrackFileError, finite where it claims to know."""
    rng = np.random.default_rng(11)
    for _ in range(60):
        count = int(rng.integers(1, 200))
        time_s = EPOCH_S + np.cumsum(rng.choice([0.0, 1e-9, 0.2, 1.0, -3.0, 700.0, 1e6], count))
        lat, lon = rng.uniform(-95, 95, count), rng.uniform(-180, 180, count)
        if rng.random() < 0.5:
            lat, lon = 46 + rng.normal(0, 1e-4, count), 7 + rng.normal(0, 1e-4, count)
        heights = rng.choice([np.nan, 0.0, 500.0, -9999.0, 99999.0, 1e300], count)
        time_s[rng.random(count) < 0.05] = np.nan
        try:
            motion = cleaned(raw_track(time_s, lat, lon, heights, heights[::-1]))
        except TrackFileError:
            continue
        assert np.isfinite(motion.velocity_east_mps).all()
        assert np.isfinite(velocity_sd_mps(motion, UNKNOWN_WING)).all()
        assert (np.diff(motion.time_s) > 0).all()
