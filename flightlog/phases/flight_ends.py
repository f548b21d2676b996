"""Lift-off and touchdown to the second, near the ends of a spell in the air.

Lift-off is where the airspeed last rises through the speed at which the wing carries everything, touchdown where
descent and speed collapse (M 2).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.air.surface import wind_near_ground
from flightlog.arrays import Floats, lengths, middle
from flightlog.motion.interpolation import MotionSamples, motion_at
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import Settings

SEA_LEVEL_DENSITY_KGM3 = 1.225
"""Of the standard atmosphere (ISO 2533:1975): equivalent and true airspeed are equal there."""
GRID_S = 0.5
"""Step at which the ends of a flight are looked at; far below what any recorder resolves."""
RUN_ACCELERATION_MPS2 = 2.0
"""Usual acceleration of a launch run: turns an error of speed into one of time (M 2)."""
SMOOTHING_BLUR_S = 0.4
"""What the smoother alone blurs at 1 s intervals (M 2)."""


@dataclass(frozen=True)
class UsualSpeed:
    """The wing's usual true airspeed in straight flight, and its standard deviation, m/s."""

    airspeed_mps: float
    sd_mps: float


def usual_airspeed(motion: Motion, air: Air, start_s: float, end_s: float, settings: Settings) -> UsualSpeed:
    """The wing's usual straight airspeed: what this flight shows, weighed against what its class lets us expect.

    True airspeed at the flight's mean density. A flight without wind estimate gives back the expectation of the
    class alone.
    """
    inside = slice(*np.searchsorted(motion.time_s, [start_s, end_s]))
    density = float(np.mean(air.density_kgm3[inside])) if inside.stop > inside.start else SEA_LEVEL_DENSITY_KGM3
    expected = settings.trim_airspeed_mps * math.sqrt(SEA_LEVEL_DENSITY_KGM3 / density)
    expected_sd = settings.trim_airspeed_sd_mps
    straight = np.isfinite(air.airspeed_mps[inside]) & (air.circling[inside] == 0)
    if np.count_nonzero(straight) * motion.interval_s < settings.shortest_airspeed_record_s:
        return UsualSpeed(expected, expected_sd)
    seen = middle(air.airspeed_mps[inside][straight])
    seen_sd = math.hypot(settings.usual_airspeed_sd_mps, float(np.median(air.wind_sd_mps[inside][straight])))
    weight = expected_sd**2 / (expected_sd**2 + seen_sd**2)
    return UsualSpeed(weight * seen + (1 - weight) * expected, math.sqrt(weight) * seen_sd)


def refined_liftoff(
    motion: Motion, air: Air, stretch: Spell, within: tuple[float, float], usual: UsualSpeed, settings: Settings
) -> tuple[float, float, float]:
    """Start of the run, lift-off and its standard deviation, s (M 2)."""
    start = stretch.start_s
    times = np.arange(
        max(within[0], start - settings.longest_run_s), min(stretch.end_s, start + settings.longest_run_s), GRID_S
    )
    samples = motion_at(motion, times)
    wind = wind_near_ground(motion, air, start, start + settings.launch_wind_from_s)
    along, headwind, headwind_sd = _along_the_run(times, samples, start, wind, usual)
    crosswind = 0.0 if wind is None else _cross(times, samples, start, wind)
    enough = settings.liftoff_speed_share * usual.airspeed_mps
    needed = math.sqrt(max(enough**2 - crosswind**2, 1.0)) - headwind  # speed over ground along the run
    crossing = _last_rise_through(times, along, needed, start, settings)
    interval = motion.interval_s
    if crossing is None:  # lifted off standing, or the run is not in the log
        liftoff = _leaves_the_ground(times, samples, start)
        return liftoff, liftoff, math.sqrt(1.0 + (interval / 4) ** 2)
    speed_sd = math.hypot(headwind_sd, 0.5)
    sd = math.sqrt(SMOOTHING_BLUR_S**2 + (interval / 4) ** 2 + (speed_sd / RUN_ACCELERATION_MPS2) ** 2)
    return _run_start(times, along, crossing, settings), crossing, sd


def _along_the_run(
    times: Floats, samples: MotionSamples, start: float, wind: tuple[float, float, float] | None, usual: UsualSpeed
) -> tuple[Floats, float, float]:
    """Ground speed along the run direction (n,), headwind and its standard deviation, m/s.

    Two sources of headwind are weighed: the wind of the first minute, and what the usual airspeed lacks once the
    wing flies.
    """
    direction = _run_direction(times, samples, start, wind)
    along = samples.velocity_east_mps * direction[0] + samples.velocity_north_mps * direction[1]
    flying = (times >= start + 4.0) & (times <= start + 12.0) & np.isfinite(along)
    plateau = float(np.median(along[flying])) if flying.any() else 0.0
    from_speed, from_speed_sd = usual.airspeed_mps - plateau, math.hypot(usual.sd_mps, 1.0)
    if wind is None:
        return along, from_speed, from_speed_sd
    from_wind = -(wind[0] * direction[0] + wind[1] * direction[1])
    weight = from_speed_sd**2 / (from_speed_sd**2 + wind[2] ** 2)
    return along, weight * from_wind + (1 - weight) * from_speed, math.sqrt(weight) * wind[2]


def _run_direction(
    times: Floats, samples: MotionSamples, start: float, wind: tuple[float, float, float] | None
) -> tuple[float, float]:
    """Unit vector (east, north) of the run: the mean velocity 3 to 8 s after the chain's start (M 2).

    Where the pilot hardly moves over the ground, the run is taken to point into the wind.
    """
    early = (times >= start + 3.0) & (times <= start + 8.0)
    east, north = np.nan_to_num(samples.velocity_east_mps[early]), np.nan_to_num(samples.velocity_north_mps[early])
    mean = (float(east.mean()), float(north.mean())) if early.any() else (0.0, 0.0)
    if math.hypot(*mean) < 1.0 and wind is not None:
        mean = (-wind[0], -wind[1])
    size = math.hypot(*mean)
    return (mean[0] / size, mean[1] / size) if size > 0.05 else (0.0, 1.0)


def _cross(times: Floats, samples: MotionSamples, start: float, wind: tuple[float, float, float]) -> float:
    """Wind across the run, m/s: it carries the wing too."""
    direction = _run_direction(times, samples, start, wind)
    return wind[0] * direction[1] - wind[1] * direction[0]


def _last_rise_through(
    times: Floats, along: Floats, needed: float, start: float, settings: Settings
) -> float | None:
    """When the speed along the run last rises through what lift-off needs, before it levels out; else None."""
    known = np.isfinite(along)
    times, along = times[known], along[known]
    near = (times >= start - settings.longest_run_s / 2) & (times <= start + settings.longest_run_s / 2)
    if not near.any():
        return None
    top = float(along[near].max())
    needed = min(needed, 0.9 * top)  # a launch slower than the wing's usual speed still lifts off
    fast = np.flatnonzero(near & (along >= max(needed, 0.95 * top)))
    if len(fast) == 0 or needed <= 0.5:
        return None
    below = np.flatnonzero(along[: fast[0] + 1] < needed)
    if len(below) == 0:
        return None
    last = below[-1]
    share = (needed - along[last]) / (along[last + 1] - along[last])
    return float(times[last] + share * (times[last + 1] - times[last]))


def _run_start(times: Floats, along: Floats, liftoff: float, settings: Settings) -> float:
    """When the speed along the run first exceeds a step's pace for good, before lift-off."""
    before = times < liftoff
    slow = np.flatnonzero(before & (np.nan_to_num(along) < settings.run_speed_mps))
    start = float(times[slow[-1] + 1]) if len(slow) else float(times[0])
    return start if liftoff - start >= GRID_S else liftoff  # less is no run


def _leaves_the_ground(times: Floats, samples: MotionSamples, start: float) -> float:
    """When the height last leaves that of the ground before, near the chain's start; else the chain's start.

    For wings lifted off standing in wind: the ground speed tells nothing there, the height does.
    """
    before = (times < start - 2.0) & np.isfinite(samples.altitude_m)
    if np.count_nonzero(before) < 4:
        return start
    ground = float(np.median(samples.altitude_m[before]))
    clear = 1.0 + 2.0 * float(np.std(samples.altitude_m[before]))
    after = (times >= start - 4.0) & (times <= start + 8.0)
    away = np.abs(samples.altitude_m - ground) > clear
    first = np.flatnonzero(after & away)
    if len(first) == 0:
        return start
    climb = max(abs(float(np.nan_to_num(samples.climb_mps[first[0]]))), 0.3)
    return float(np.clip(times[first[0]] - clear / climb, start - 4.0, start + 4.0))


def refined_touchdown(
    motion: Motion, air: Air, stretch: Spell, within: tuple[float, float], usual: UsualSpeed, settings: Settings
) -> tuple[float, float]:
    """First touch and its standard deviation, s.

    The middle one of three views: the chain's end, the collapse of airspeed, and the end of the descent.
    """
    end = stretch.end_s
    times = np.arange(max(stretch.start_s, end - 30.0), min(within[1], end + 20.0), GRID_S)
    samples = motion_at(motion, times)
    wind = wind_near_ground(motion, air, end - settings.launch_wind_from_s, end)
    by_speed = _speed_collapse(times, samples, end, wind, usual, settings)
    by_height = _descent_end(times, samples, end)
    known = [view for view in (end, by_speed, by_height) if view is not None]
    if by_speed is None and by_height is not None:
        known.append(by_height)  # parked into the wind, speed tells nothing: the chain is late then, height is not
    touchdown = float(np.median(known))
    spread = float(np.std(known)) if len(known) > 1 else 1.0
    sd = math.sqrt(0.5**2 + (motion.interval_s / 4) ** 2 + (spread / 2) ** 2)
    return float(np.clip(touchdown, stretch.start_s, within[1])), sd


def _speed_collapse(
    times: Floats,
    samples: MotionSamples,
    end: float,
    wind: tuple[float, float, float] | None,
    usual: UsualSpeed,
    settings: Settings,
) -> float | None:
    """When the speed through the air last falls through what carries the wing; None where it tells nothing."""
    east, north = samples.velocity_east_mps, samples.velocity_north_mps
    if wind is None:
        ground_speed = lengths(east, north)
        flying = ground_speed[(times >= end - 12.0) & (times <= end - 4.0)]
        if not np.isfinite(flying).any() or np.nanmedian(flying) < 3.0:
            return None
        airspeed, limit = ground_speed, 0.5 * float(np.nanmedian(flying))
    else:
        airspeed = lengths(east - wind[0], north - wind[1])
        calm = math.hypot(wind[0], wind[1])
        limit = settings.touchdown_speed_share * usual.airspeed_mps
        if calm > limit - 1.0:  # standing still, the wind alone reads as flying
            return None
    carried = np.flatnonzero((airspeed >= limit) & (times <= end + 8.0))
    if len(carried) == 0 or carried[-1] + 1 >= len(times):
        return None
    return float(times[carried[-1]] + GRID_S / 2)


def _descent_end(times: Floats, samples: MotionSamples, end: float) -> float | None:
    """When the height comes down to that of the ground stood on afterwards; None without time on the ground."""
    after = (times >= end + 3.0) & np.isfinite(samples.altitude_m)
    if np.count_nonzero(after) < 6:
        return None
    ground = float(np.median(samples.altitude_m[after]))
    high = np.flatnonzero((samples.altitude_m - ground > 0.7) & (times <= end + 6.0))
    if len(high) == 0 or times[high[-1]] < end - 15.0 or not np.isfinite(samples.altitude_m[high[-1] + 1]):
        return None
    return float(times[high[-1]] + GRID_S)
