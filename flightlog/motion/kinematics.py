"""Places, heights and their rates: what the smoother makes of the fixes, and how sure it is of the rates."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Complexes, Floats, Ints
from flightlog.motion.clock import first_fixes_from
from flightlog.motion.motion import Motion
from flightlog.motion.outliers import blocks_of
from flightlog.motion.smoothing import (
    probe_spacing,
    smooth,
    steps_between,
    variances,
    wiener_precision,
)
from flightlog.motion.splines import smooth_bend, smooth_rate
from flightlog.settings import Settings

_FULL_TURN_ACCELERATION_MPS2 = 2.5  # V omega while circling is 3 to 4 m/s2
_STRAIGHT_ACCELERATION_MPS2 = 1.0
_TURNING_FACTORS = ([0.2, 1.0, 2.0, 3.0, 4.0, 5.0, 10.0], [1.0, 1.0, 1.1, 1.5, 1.8, 2.0, 3.0])
_BEND_REACH_S = 2.5  # to either side: cuts the acceleration in a 15 s circle by 4 %
_ACCELERATION_HALF_WIDTH_S = 6.0


@dataclass(frozen=True, eq=False)
class SmoothedLevel:
    """Smoothed plane coordinates with their rates, (n,) each, east + i north of the plane."""

    place_m: Complexes
    velocity_mps: Complexes
    acceleration_mps2: Complexes
    bend_mps2: Floats  # acceleration, root mean square over 12 s: 3 to 4 in circles, below 1 in straight flight


def smoothed_level(
    time_s: Floats, piece: Ints, place: Complexes, noise_m: float, interval_s: float, settings: Settings
) -> SmoothedLevel:
    """Smooth the plane coordinates (n,), east + i north, with the integrated-Wiener prior of third order.

    `noise_m` is the standard deviation of one coordinate of a fix, rounding included.
    """
    bend = _running_rms(time_s, _bend(time_s, piece, place, interval_s), _ACCELERATION_HALF_WIDTH_S, interval_s)
    middle = place.mean()
    smoothed, velocity, acceleration = smooth_bend(
        time_s, piece, place - middle, _noise_variance(time_s, noise_m**2), _jerk_density(bend, settings)
    )
    return SmoothedLevel(smoothed + middle, velocity, acceleration, bend)


def _jerk_density(bend_mps2: Floats, settings: Settings) -> Floats:
    """Spectral density of the jerk in each step, (n - 1,), more in turns.

    The jerk of a steady turn is V omega^2 for about 1 / omega: a density of a^3 / (2 V) beside that of gusts.
    """
    turning = bend_mps2 * bend_mps2 * bend_mps2 / (2.0 * settings.trim_airspeed_mps)
    return settings.jerk_density_m2ps5 + settings.turning_jerk_share * 0.5 * (turning[1:] + turning[:-1])


def velocity_sd_mps(motion: Motion, settings: Settings) -> Floats:
    """Posterior standard deviation of one horizontal component of the velocity at every fix, (n,), m/s.

    Worked out when asked for, which costs as much as `clean_motion` again: no result is drawn from it. In circles
    of slow recorders larger than the posterior's own (measured on simulated flights, M 1).
    """
    interval_s = motion.interval_s
    bend = _bend_of(motion)
    noise = _noise_variance(motion.time_s, motion.position_noise_m**2)
    steps = steps_between(motion.time_s, motion.piece)
    precision = wiener_precision(steps, _jerk_density(bend, settings), 3)
    smoothed = smooth(motion.measured_east_m[:, None], 1.0 / noise, precision)
    spacing = probe_spacing(interval_s, float(np.median(noise)), settings.jerk_density_m2ps5, 3)
    sd = np.sqrt(variances(smoothed, 1, spacing, _stride(interval_s)))
    full = float(np.interp(interval_s, *_TURNING_FACTORS))
    return np.asarray(sd * (1.0 + (full - 1.0) * _turning_share(bend)))


def _bend_of(motion: Motion) -> Floats:
    """The bends that a motion was smoothed by, (n,)."""
    place = motion.measured_east_m + 1j * motion.measured_north_m
    bend = _bend(motion.time_s, motion.piece, place, motion.interval_s)
    return _running_rms(motion.time_s, bend, _ACCELERATION_HALF_WIDTH_S, motion.interval_s)


def smoothed_height(
    time_s: Floats,
    piece: Ints,
    measured_m: Floats,
    noise_m: float,
    bend_mps2: Floats,
    interval_s: float,
    settings: Settings,
) -> tuple[Floats, Floats]:
    """Smoothed altitude and climb; NaN further from any height than a bridge."""
    known = np.isfinite(measured_m)
    if not known.any():
        nothing = np.full(len(time_s), np.nan)
        return nothing, nothing
    noise, density = _noise_variance(time_s, noise_m**2), _climb_density(bend_mps2, settings)
    if known.all():
        return smooth_rate(time_s, piece, measured_m, noise, density)
    middle = float(np.nanmedian(measured_m))
    precision = wiener_precision(steps_between(time_s, piece), density, 2)
    smoothed = smooth((measured_m - middle)[:, None], 1.0 / noise, precision)
    altitude, climb = smoothed.states[:, 0, 0] + middle, smoothed.states[:, 1, 0]
    unknown = _far_from_known(time_s, piece, known, longest_bridge_s(interval_s, settings))
    return np.where(unknown, np.nan, altitude), np.where(unknown, np.nan, climb)


def climb_sd_mps(motion: Motion, settings: Settings) -> Floats:
    """Posterior standard deviation of the climb at every fix, (n,), m/s; NaN where the climb is.

    Worked out when asked for, as that of the velocity. Three times the posterior's own with satellite heights,
    whose errors wander over seconds to minutes (M 1).
    """
    density = _climb_density(_bend_of(motion), settings)
    noise = _noise_variance(motion.time_s, motion.altitude_noise_m**2)
    precision = wiener_precision(steps_between(motion.time_s, motion.piece), density, 2)
    smoothed = smooth(motion.measured_altitude_m[:, None], 1.0 / noise, precision)
    spacing = probe_spacing(motion.interval_s, float(np.median(noise)), settings.climb_density_m2ps3, 2)
    sd = np.sqrt(variances(smoothed, 1, spacing, _stride(motion.interval_s)))
    return np.where(np.isfinite(motion.climb_mps), 3.0 * sd if motion.altitude_source == "gnss" else sd, np.nan)


def longest_bridge_s(interval_s: float, settings: Settings) -> float:
    """Longest silence that is bridged: some seconds, or a few intervals of a slow recorder."""
    slow = min(settings.longest_bridge_intervals * interval_s, settings.longest_slow_bridge_s)
    return max(settings.longest_bridge_s, slow)


def _noise_variance(time_s: Floats, variance: float) -> Floats:
    """Variance of each fix: fixes closer than 1 s share their errors, so that more of them tell no more."""
    step = np.minimum(np.diff(time_s), 1.0)
    spacing = np.concatenate([[step[0]], 0.5 * (step[:-1] + step[1:]), [step[-1]]])
    return np.asarray(variance / np.minimum(spacing, 1.0))


def _stride(interval_s: float) -> int:
    """Standard deviations are computed every so many fixes: about each 2.5 s, they change slowly."""
    return int(max(1, 2.5 // interval_s))


def _bend(time_s: Floats, piece: Ints, place: Complexes, interval_s: float) -> Floats:
    """Size of the acceleration from three places some seconds apart, (n,) m/s2; 0 at the ends of pieces.

    The noise of the fixes makes it 0.4 m/s2 at most.
    """
    reach = max(_BEND_REACH_S, interval_s)
    earlier, later = time_s - reach, time_s + reach
    last = len(time_s) - 1
    before, after = first_fixes_from(time_s, -reach, interval_s), first_fixes_from(time_s, reach, interval_s)
    inside = (before > 0) | (time_s[0] == earlier)
    inside &= after <= last
    before, after = np.maximum(before, 1), np.minimum(after, last)
    inside &= (piece[before - 1] == piece) & (piece[after] == piece)
    chord = _on_line(time_s, place, after, later) - 2.0 * place + _on_line(time_s, place, before, earlier)
    return np.where(inside, np.abs(chord) / reach**2, 0.0)


def _on_line(time_s: Floats, place: Complexes, after: Ints, wanted_s: Floats) -> Complexes:
    """Places at these times on the straight lines to the fixes `after` from those before them."""
    before = after - 1
    start_s, start = time_s[before], place[before]
    return np.asarray(start + (wanted_s - start_s) / (time_s[after] - start_s) * (place[after] - start))


def _running_rms(time_s: Floats, values: Floats, half_width_s: float, interval_s: float) -> Floats:
    """Root mean square of the values within so many seconds to either side."""
    running = np.concatenate([[0.0], np.cumsum(values * values)])
    low = first_fixes_from(time_s, -half_width_s, interval_s)
    high = first_fixes_from(time_s, half_width_s, interval_s, beyond=True)
    return np.asarray(np.sqrt(np.maximum((running[high] - running[low]) / (high - low), 0.0)))


def _turning_share(acceleration_mps2: Floats) -> Floats:
    """0 in straight flight, 1 in circles, by the acceleration."""
    span = _FULL_TURN_ACCELERATION_MPS2 - _STRAIGHT_ACCELERATION_MPS2
    return np.minimum(np.maximum((acceleration_mps2 - _STRAIGHT_ACCELERATION_MPS2) / span, 0.0), 1.0)


def _climb_density(acceleration_mps2: Floats, settings: Settings) -> Floats:
    """Spectral density of the rate of climb for each step, (n - 1,): more in circles, in and out of the core."""
    share = _turning_share(0.5 * (acceleration_mps2[1:] + acceleration_mps2[:-1]))
    base = settings.climb_density_m2ps3
    return np.asarray(base + (settings.turning_climb_density_m2ps3 - base) * share)


def _far_from_known(time_s: Floats, piece: Ints, known: Bools, longest_s: float) -> Bools:
    """Mark fixes inside stretches without a height that last longer than a bridge."""
    far = np.zeros(len(time_s), dtype=np.bool_)
    if known.all():
        return far
    starts, stops = blocks_of(~known)
    for start, stop in zip(starts, stops, strict=True):
        last = len(time_s) - 1
        if time_s[min(stop, last)] - time_s[max(start - 1, 0)] > longest_s:
            far[start:stop] = True
    whole = np.bincount(piece, weights=known) < 2
    return np.asarray(far | whole[piece])
