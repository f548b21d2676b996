"""The smoothed motion between the fixes."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.motion.cleaning import clean_motion
from flightlog.motion.interpolation import index_at, moment_at, motion_at, motion_at_each
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import EPOCH_S, flight, picked, track_of

PATH, LIFTOFF, TOUCHDOWN = flight()
MOTION = clean_motion(track_of(PATH, 2.0, noise_m=0.3), UNKNOWN_WING)


def test_at_the_fixes_it_is_the_smoothed_motion():
    samples = motion_at(MOTION, MOTION.time_s)
    for name in ("east_m", "north_m", "altitude_m", "velocity_east_mps", "velocity_north_mps", "climb_mps"):
        assert getattr(samples, name) == pytest.approx(getattr(MOTION, name), abs=1e-6)


def test_between_the_fixes_it_is_near_the_truth():
    time_s = np.arange(LIFTOFF + 10, TOUCHDOWN - 10, 0.3)
    samples = motion_at(MOTION, EPOCH_S + time_s)
    assert np.sqrt(np.mean((samples.velocity_east_mps - PATH.velocity_at(time_s, 1)) ** 2)) < 0.8
    assert np.sqrt(np.mean((samples.climb_mps - PATH.velocity_at(time_s, 3)) ** 2)) < 0.3


def test_velocity_is_the_slope_of_position():
    time_s = MOTION.time_s[100] + np.arange(0.05, 20.0, 0.1)
    ahead, behind, here = (motion_at(MOTION, time_s + shift) for shift in (1e-3, -1e-3, 0.0))
    assert (ahead.altitude_m - behind.altitude_m) / 2e-3 == pytest.approx(here.climb_mps, abs=1e-3)
    assert (ahead.east_m - behind.east_m) / 2e-3 == pytest.approx(here.velocity_east_mps, abs=0.02)


def test_unknown_in_gaps_and_outside():
    track = track_of(PATH, 2.0)
    motion = clean_motion(picked(track, np.r_[0:100, 120 : len(track.time_s)]), UNKNOWN_WING)
    inside = motion.time_s[99] + np.array([0.0, 5.0, 30.0])
    samples = motion_at(motion, np.concatenate([inside, [motion.time_s[0] - 1, motion.time_s[-1] + 1]]))
    assert np.isfinite(samples.east_m[0])
    assert np.isnan(samples.east_m[1:]).all()
    assert np.isnan(samples.climb_mps[1:]).all()


NAMES = ("east_m", "north_m", "altitude_m", "velocity_east_mps", "velocity_north_mps", "climb_mps")


def columns(samples):
    return np.array([getattr(samples, name) for name in NAMES])


def test_moments_alone_are_those_of_the_many():
    track = track_of(PATH, 2.0, noise_m=0.3)
    motion = clean_motion(picked(track, np.r_[0:100, 120 : len(track.time_s)]), UNKNOWN_WING)
    shifts = [-1.0, 0.0, 0.1, 40.0, 41.9, 197.0, 198.0, 199.0, 238.0, 240.0, 241.0, 260.3]
    times = np.append(motion.time_s[0] + np.array(shifts), motion.time_s[-1] + np.array([-0.5, 0.0, 0.5]))
    many = columns(motion_at(motion, times))
    assert np.flatnonzero(np.isnan(many[0])).tolist() == [0, 7, 8, 14]
    for at, time_s in enumerate(times):
        assert columns(moment_at(motion, float(time_s))) == pytest.approx(many[:, at], rel=1e-12, nan_ok=True)
    few = columns(motion_at(motion, times[2:5]))
    assert few == pytest.approx(many[:, 2:5], rel=1e-12)


def test_several_rows_at_once_are_those_of_each():
    rows = [MOTION.time_s[0] + np.arange(3.0, stop, 0.7) for stop in (9.0, 3.5, 90.0)] + [np.empty(0)]
    for at, row in zip(motion_at_each(MOTION, rows), rows, strict=True):
        assert at.time_s.tolist() == row.tolist()
        assert columns(at) == pytest.approx(columns(motion_at(MOTION, row)), rel=1e-12)
    assert motion_at_each(MOTION, []) == []


def test_nearest_fix():
    assert index_at(MOTION, float(MOTION.time_s[7]) + 0.4) == 7
    assert index_at(MOTION, float(MOTION.time_s[7]) + 1.6) == 8
    assert index_at(MOTION, 0.0) == 0
    assert index_at(MOTION, 1e12) == len(MOTION.time_s) - 1
