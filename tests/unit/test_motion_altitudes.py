"""Which altitude is trusted, and how pressure and GNSS are joined."""

from __future__ import annotations

import numpy as np
import pytest

from flightlog.motion.cleaning import clean_motion
from flightlog.motion.kinematics import climb_sd_mps
from flightlog.settings import UNKNOWN_WING
from tests.unit.motion_builders import EPOCH_S, changed, flight, track_of

PATH, LIFTOFF, TOUCHDOWN = flight()


def cleaned(track):
    return clean_motion(track, UNKNOWN_WING)


def codes(motion):
    return {note.code for note in motion.notes}


def test_pressure_is_shifted_and_stretched_to_sea_level():
    """A day 6 K too warm: pressure heights are 2 % short; over this 400 m flight GNSS shows most of it."""
    motion = cleaned(track_of(PATH, scale=-0.02, offset_m=120.0))
    assert motion.altitude_source == "pressure"
    assert motion.altitude_scale == pytest.approx(0.02, abs=2.5 * motion.altitude_scale_sd)
    assert 0.0 < motion.altitude_scale_sd <= 0.021
    t = motion.time_s - EPOCH_S
    assert np.abs(motion.altitude_m - PATH.at(t, 3)).max() < 8.0


def test_a_small_height_range_leaves_the_scale_to_the_prior():
    t = np.arange(0, 600.0)
    track = track_of(PATH, times=t[:100])  # standing: nothing to learn a scale from
    motion = cleaned(track)
    assert abs(motion.altitude_scale) < 0.01
    assert motion.altitude_scale_sd == pytest.approx(UNKNOWN_WING.altitude_scale_prior_sd, rel=0.05)


def test_climb_comes_from_pressure_and_is_right():
    motion = cleaned(track_of(PATH))
    t = motion.time_s - EPOCH_S
    flying = (t > LIFTOFF + 5) & (t < TOUCHDOWN - 5)
    assert np.sqrt(np.mean((motion.climb_mps - PATH.velocity_at(t, 3))[flying] ** 2)) < 0.3


def test_without_pressure_gnss_serves_and_says_so():
    motion = cleaned(track_of(PATH, pressure=False))
    assert motion.altitude_source == "gnss"
    assert "gnss_altitude_only" in codes(motion)
    assert motion.altitude_scale == 0.0
    sure = climb_sd_mps(cleaned(track_of(PATH)), UNKNOWN_WING)
    assert np.median(climb_sd_mps(motion, UNKNOWN_WING)) > 2 * np.median(sure)


def test_pressure_without_gnss_keeps_the_standard_level():
    motion = cleaned(track_of(PATH, gnss=False))
    assert motion.altitude_source == "pressure"
    assert "pressure_altitude_only" in codes(motion)
    assert motion.altitude_offset_m == 0.0


def test_a_copied_column_is_no_barometer():
    track = track_of(PATH)
    motion = cleaned(changed(track, pressure_m=track.gnss_altitude_m))
    assert motion.altitude_source == "gnss"
    assert "pressure_copies_gnss" in codes(motion)


def test_a_stuck_barometer_is_not_used():
    track = track_of(PATH)
    motion = cleaned(changed(track, pressure_m=np.full(len(track.time_s), 0.0)))
    assert motion.altitude_source == "gnss"
    assert "pressure_stuck" in codes(motion) or "gnss_altitude_only" in codes(motion)
    assert np.ptp(motion.altitude_m) > 100.0


def test_bad_gnss_heights_do_not_bend_the_pressure():
    track = track_of(PATH)
    wild = track.gnss_altitude_m + 70.0 * np.sin(np.arange(len(track.time_s)) / 60.0)
    motion = cleaned(changed(track, gnss_m=wild))
    assert "gnss_altitude_poor" in codes(motion)
    assert motion.altitude_scale == 0.0
    t = motion.time_s - EPOCH_S
    flying = (t > LIFTOFF + 5) & (t < TOUCHDOWN - 5)
    assert np.sqrt(np.mean((motion.climb_mps - PATH.velocity_at(t, 3))[flying] ** 2)) < 0.3


def test_gnss_heights_that_come_late_do_not_count_as_bad():
    track = track_of(PATH)
    late = np.concatenate([np.full(15, track.gnss_altitude_m[0]), track.gnss_altitude_m[:-15]])
    motion = cleaned(changed(track, gnss_m=late))
    assert "gnss_altitude_poor" not in codes(motion)


def test_height_spikes_are_missing_heights_not_missing_fixes():
    track = track_of(PATH)
    heights = track.pressure_altitude_m.copy()
    heights[[200, 400, 401]] += 500.0
    motion = cleaned(changed(track, pressure_m=heights))
    assert "height_spike" in codes(motion)
    assert len(motion.fix) == len(track.time_s)
    assert np.isnan(motion.measured_altitude_m[[200, 400, 401]]).all()
    assert np.abs(motion.climb_mps).max() < 6.0


def test_zeros_stand_for_no_height():
    track = track_of(PATH, pressure=False)
    heights = track.gnss_altitude_m.copy()
    heights[100:105] = 0.0
    motion = cleaned(changed(track, gnss_m=heights))
    assert np.isnan(motion.measured_altitude_m[100:105]).all()


def test_a_long_stretch_without_heights_stays_unknown():
    track = track_of(PATH)
    pressure = track.pressure_altitude_m.copy()
    pressure[300:360] = np.nan
    motion = cleaned(changed(track, pressure_m=pressure))
    assert np.isnan(motion.altitude_m[305:355]).all()
    assert np.isnan(motion.climb_mps[305:355]).all()
    assert np.isfinite(motion.altitude_m[:300]).all()


def test_no_heights_at_all_leave_the_rest():
    motion = cleaned(track_of(PATH, pressure=False, gnss=False))
    assert "no_altitude" in codes(motion)
    assert np.isnan(motion.altitude_m).all()
    assert np.isfinite(motion.velocity_east_mps).all()
