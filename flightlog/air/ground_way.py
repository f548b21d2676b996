"""The way flown over the ground between fixes, with what bends between them.

Straight lines from fix to fix cut circles short: by 0.4 % at 1 s, by 11 % and more at 4 s. Between two fixes the
wing is taken to fly an arc through the air, as fast all along, that turns as the turn rate says, while the air
carries it.
"""

from __future__ import annotations

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Bools, Floats, lengths
from flightlog.motion.motion import Motion
from flightlog.settings import Settings

GAUSS_REACH = 0.5 * 0.6**0.5
"""The outer points of Gauss's rule of three lie so far from the middle of a step, as a share of it; they weigh 5
eighteenths each, the middle 8."""
CLEAR_TURN_RAD = np.radians(25.0)
"""A turn within one step by which smoothing cuts a corner that the recorded positions still show."""
GREATEST_TURN_RAD = np.radians(200.0)
STRAIGHT_RAD = np.radians(12.0)
BLOCK_S, BLOCK_LEAST_S = 300.0, 30.0
"""The airspeed of straight flight is drawn from blocks so long that hold so much of it."""


def ground_way_m(motion: Motion, air: Air, settings: Settings) -> Floats:
    """Length over the ground of every step from fix to fix, (n - 1,); straight across gaps.

    From `slow_recorder_s` on, turns are measured on the recorded positions, and a turn outside circles is flown no
    slower than the straight flight around it: a turn of half a circle between two fixes leaves no other trace.
    On simulated flights of all kinds the median error is -0.1 to -0.4 % to 2 s, -0.1 to -1.3 % from 3 to 5 s, and
    -4 % in the worst one; circles at 4-5 s alone come out 2-4 % short.
    """
    seconds = np.diff(motion.time_s)
    east, north = np.diff(motion.east_m), np.diff(motion.north_m)
    turn = _known_or_0(np.radians(_middle(air.turn_rate_degps)) * seconds)
    turn = np.clip(turn, -GREATEST_TURN_RAD, GREATEST_TURN_RAD)
    turn[motion.piece[1:] != motion.piece[:-1]] = 0.0
    slow = motion.interval_s >= settings.slow_recorder_s
    clear = np.abs(turn) > CLEAR_TURN_RAD
    if slow:
        east = np.where(clear, np.diff(motion.measured_east_m), east)
        north = np.where(clear, np.diff(motion.measured_north_m), north)
    wind_east, wind_north = _middle(air.wind_east_mps), _middle(air.wind_north_mps)
    known = np.isfinite(wind_east) & np.isfinite(wind_north)
    wind_east, wind_north = _known_or_0(wind_east), _known_or_0(wind_north)
    air_east, air_north = east / seconds - wind_east, north / seconds - wind_north
    straight = lengths(air_east, air_north)
    half = np.maximum(0.5 * np.abs(turn), 1e-9)
    speed = straight * half / _cosine_and_sine(half)[1]
    if slow:
        outside = known & clear & (air.circling[1:] == 0)
        speed = np.where(
            outside, np.maximum(speed, _straight_airspeed(motion, speed, known & ~clear, turn)), speed
        )
    still = straight == 0.0  # then taken to head north
    faster = speed / np.where(still, 1.0, straight)
    air_east, air_north = air_east * faster, np.where(still, speed, air_north * faster)
    return seconds * _mean_over_arc(air_east, air_north, turn, wind_east, wind_north)


def _mean_over_arc(
    air_east: Floats, air_north: Floats, turn: Floats, wind_east: Floats, wind_north: Floats
) -> Floats:
    """Mean speed over the ground of a steady turn through the air, from the velocity in its middle, by Gauss."""
    cosine, sine = _cosine_and_sine(GAUSS_REACH * turn)
    across_east, across_north = air_north * sine, -air_east * sine
    along_east, along_north = air_east * cosine + wind_east, air_north * cosine + wind_north
    ends = lengths(along_east + across_east, along_north + across_north)
    ends += lengths(along_east - across_east, along_north - across_north)
    return np.asarray((5.0 * ends + 8.0 * lengths(air_east + wind_east, air_north + wind_north)) / 18.0)


def _cosine_and_sine(angle_rad: Floats) -> tuple[Floats, Floats]:
    """Cosine and sine by the tangent of half the angle, faster than one by one; for less than half a turn."""
    tangent = np.tan(0.5 * angle_rad)
    square = tangent * tangent
    return (1.0 - square) / (1.0 + square), 2.0 * tangent / (1.0 + square)


def _known_or_0(values: Floats) -> Floats:
    """The values, 0 where they are not known."""
    return np.where(np.isfinite(values), values, 0.0)


def _middle(values: Floats) -> Floats:
    """Values half-way between the fixes."""
    return np.asarray(0.5 * (values[1:] + values[:-1]))


def _straight_airspeed(motion: Motion, speed: Floats, usable: Bools, turn: Floats) -> Floats:
    """Airspeed of the straight flight around every step; 0 where the log holds none."""
    time, seconds = motion.time_s[:-1], np.diff(motion.time_s)
    chosen = np.flatnonzero(usable & (np.abs(turn) < STRAIGHT_RAD) & (np.diff(motion.piece) == 0))
    if chosen.size == 0:
        return np.zeros_like(speed)
    block = np.floor((time[chosen] - time[0]) / BLOCK_S)
    parts = np.split(chosen, np.flatnonzero(np.diff(block)) + 1)
    parts = [part for part in parts if seconds[part].sum() >= BLOCK_LEAST_S]
    if not parts:
        return np.zeros_like(speed)
    middles = [float(np.median(time[part])) for part in parts]
    return np.asarray(np.interp(time, middles, [float(np.median(speed[part])) for part in parts]))
