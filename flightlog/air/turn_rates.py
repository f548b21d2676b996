"""How fast the wing turned through the air at each fix."""

from __future__ import annotations

import numpy as np

from flightlog.air.chords import Chords
from flightlog.arrays import Floats, lengths
from flightlog.motion.motion import Motion
from flightlog.settings import Settings

SLOWEST_AIR_VELOCITY_MPS = 2.0
LARGEST_EXPECTED_TURN_RAD = 2.0
HALF_CIRCLE_DEG = 180.0


def air_turn_rate_degps(
    motion: Motion, chords: Chords, wind_east: Floats, wind_north: Floats, settings: Settings
) -> Floats:
    """Turn rate (n,) through air that moves like this (n,), right positive, degrees a second.

    From the smoothed motion; of recorders slower than `slow_recorder_s`, whose circles smoothing cuts short, from
    one chord to the next. At 5 s circles of 12 s and less may still be taken for slower ones. NaN where a slow
    recorder's fixes lie so far apart that more than half a circle would have been turned between two of them: what
    the smoother makes of such a gap is no turn rate.
    """
    east, north = motion.velocity_east_mps - wind_east, motion.velocity_north_mps - wind_north
    cross = north * motion.acceleration_east_mps2 - east * motion.acceleration_north_mps2
    smoothed = np.degrees(cross / np.maximum(east**2 + north**2, SLOWEST_AIR_VELOCITY_MPS**2))
    if motion.interval_s < settings.slow_recorder_s:
        return smoothed
    smoothed = np.where(np.abs(smoothed) * _longest_step_s(motion) > HALF_CIRCLE_DEG, np.nan, smoothed)
    time, rate = _from_chords(motion, chords, wind_east, wind_north, smoothed, settings)
    if time.size == 0:
        return smoothed
    after = np.searchsorted(time, motion.time_s).clip(0, time.size - 1)
    before = np.maximum(after - 1, 0)
    away_s = np.minimum(np.abs(motion.time_s - time[after]), np.abs(motion.time_s - time[before]))
    return np.where(away_s <= motion.interval_s, np.interp(motion.time_s, time, rate), smoothed)


def _longest_step_s(motion: Motion) -> Floats:
    """The longer one of the times to the fix before and to the one after, s."""
    step = np.concatenate([[0.0], np.diff(motion.time_s), [0.0]])
    return np.asarray(np.maximum(step[1:], step[:-1]))


def _from_chords(
    motion: Motion,
    chords: Chords,
    wind_east: Floats,
    wind_north: Floats,
    smoothed_degps: Floats,
    settings: Settings,
) -> tuple[Floats, Floats]:
    """Times between chords and turn rates there; the smoothed rate tells 200 right from 160 left."""
    east, north = chords.east_mps - wind_east[chords.start], chords.north_mps - wind_north[chords.start]
    vague = lengths(east, north) < settings.slowest_airspeed_mps / 2.0  # such a chord has no clear direction
    turn, gap_s = np.diff(np.arctan2(east, north)), np.diff(chords.mid_s)
    time = chords.mid_s[:-1] + gap_s / 2.0
    expected = np.interp(time, motion.time_s, np.radians(np.nan_to_num(smoothed_degps))) * gap_s
    expected = np.clip(expected, -LARGEST_EXPECTED_TURN_RAD, LARGEST_EXPECTED_TURN_RAD)
    turn = np.degrees(turn - 2.0 * np.pi * np.round((turn - expected) / (2.0 * np.pi)))
    near = (gap_s > 0.0) & (gap_s <= 1.6 * motion.interval_s) & ~vague[1:] & ~vague[:-1]
    return time[near], turn[near] / gap_s[near]
