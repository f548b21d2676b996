"""A stretch of flight from one time to another: way, height, wind and speeds, and how far to trust them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Floats
from flightlog.motion.motion import Motion

LEAST_HEIGHT_SD_M = 0.4
"""No recorder's smoothed pressure height is better (0.3 m of sensor noise, M 1)."""
PRESSURE_DRIFT_MPS = 6.0 / 3600.0
"""Drift of pressure heights within a flight, one standard deviation: 1 hPa in an hour moves them by 8 m."""
SCALE_SD_FACTOR = 1.3
"""The scale drawn from a flight errs by so much more than its own standard deviation says (simulated flights)."""
CLIMB_ROUGHNESS_M2PS3 = 0.3
"""How fast vertical speed changes at random, as a spectral density: gusts, and entering and leaving lift."""
GNSS_WANDER_SD_M = 4.6
"""Of GNSS altitude: it wanders by 3-5 m (M 1)."""
GNSS_WANDER_TIME_S = 80.0
"""Within about this time (M 1)."""
GROUND_WAY_SHARE, GROUND_WAY_SHARE_PER_S, GROUND_WAY_SHARE_SILENT = 0.004, 0.002, 0.3
"""Error of the way over the ground, as a share: 0.4 % (M 6), and what bends between fixes cut off: 0.2 % for each
second between them (simulated flights), 30 % of the way flown while the recorder was silent."""
LEAST_WIND_SHARE = 0.8
"""Share of the fixes of a stretch that must have a wind for it to have figures through the air."""


@dataclass(frozen=True)
class Stretch:
    """Sums and means over a stretch; figures through the air are None where the wind is not known.

    `along_sd_mps` is the standard deviation of the wind along the way flown, one vector component.
    """

    duration_s: float
    gain_m: float
    gain_sd_m: float
    start_altitude_m: float
    end_altitude_m: float
    top_altitude_m: float
    way_m: float  # over the ground
    course_deg: float  # from start to end, true
    mean_altitude_m: float
    density_kgm3: float
    air_way_m: float | None
    wind_east_mps: float | None
    wind_north_mps: float | None
    along_sd_mps: float | None
    tailwind_mps: float | None  # along the course
    silent_s: float  # time inside gaps of the recording
    way_sd_share: float  # standard deviation of the way over the ground, as a share of it


def _with_ends(motion: Motion, start_s: float, end_s: float) -> tuple[Floats, Callable[[Floats], Floats]]:
    """Times of the fixes inside with both ends added, and how to cut a column of the motion to them."""
    time = motion.time_s
    first, stop = (int(i) for i in np.searchsorted(time, [start_s, end_s], side="right"))
    places = []
    for at_s, i in ((start_s, first), (end_s, stop)):
        left = min(max(i - 1, 0), time.size - 2)
        share = (at_s - time[left]) / (time[left + 1] - time[left])
        places.append((left, float(min(max(share, 0.0), 1.0))))

    def column(values: Floats) -> Floats:
        cut = np.empty(stop - first + 2)
        cut[1:-1] = values[first:stop]
        for end, (left, share) in zip((0, -1), places, strict=True):
            cut[end] = values[left] if share == 0 else values[left] * (1.0 - share) + values[left + 1] * share
        return cut

    return column(time), column


def stretch(motion: Motion, air: Air, start_s: float, end_s: float, height_sd_m: float) -> Stretch:
    """The flight from start to end; `height_sd_m` is that of one height, from `smoothed_height_sd_m`.

    Raises ValueError unless `end_s` is after `start_s`.
    """
    if not end_s > start_s:
        raise ValueError(f"end_s {end_s} must lie after start_s {start_s}")
    time, column = _with_ends(motion, start_s, end_s)
    east, north, altitude = column(motion.east_m), column(motion.north_m), column(motion.altitude_m)
    seconds = np.diff(time)
    true_east, true_north = column(motion.velocity_east_mps), column(motion.velocity_north_mps)
    course = math.atan2(
        float((seconds * (true_east[1:] + true_east[:-1])).sum()),
        float((seconds * (true_north[1:] + true_north[:-1])).sum()),
    )
    gain_m = float(altitude[-1] - altitude[0])
    duration_s = end_s - start_s
    first, stop = (int(i) for i in np.searchsorted(motion.time_s, [start_s, end_s], side="right"))
    wind = _wind(air, slice(max(first - 1, 0), min(stop + 1, motion.time_s.size)), course)
    air_way = None if wind is None else _mean_airspeed(column(air.airspeed_mps), seconds)
    pieces = motion.piece[np.clip(np.arange(first - 1, stop + 1), 0, motion.time_s.size - 1)]
    silent_s = float(seconds[np.diff(pieces) != 0].sum())
    return Stretch(
        duration_s=duration_s,
        gain_m=gain_m,
        gain_sd_m=height_change_sd_m(motion, duration_s, gain_m, height_sd_m),
        start_altitude_m=float(altitude[0]),
        end_altitude_m=float(altitude[-1]),
        top_altitude_m=float(altitude.max()),
        way_m=float(np.hypot(np.diff(east), np.diff(north)).sum()),
        course_deg=math.degrees(course) % 360.0,
        mean_altitude_m=float(altitude.mean()),
        density_kgm3=float(np.mean(column(air.density_kgm3))),
        air_way_m=air_way if air_way is None else air_way * duration_s,
        wind_east_mps=None if wind is None else wind[0],
        wind_north_mps=None if wind is None else wind[1],
        along_sd_mps=None if wind is None else wind[2],
        tailwind_mps=None if wind is None else wind[3],
        silent_s=silent_s,
        way_sd_share=math.hypot(
            GROUND_WAY_SHARE,
            GROUND_WAY_SHARE_PER_S * motion.interval_s,
            GROUND_WAY_SHARE_SILENT * silent_s / duration_s,
        ),
    )


def _wind(air: Air, part: slice, course_rad: float) -> tuple[float, float, float, float] | None:
    """Mean wind east and north, its sd, and its part along the course; None where it is not known."""
    east, north, sd = air.wind_east_mps[part], air.wind_north_mps[part], air.wind_sd_mps[part]
    known = np.isfinite(east) & np.isfinite(north) & np.isfinite(sd)
    if known.size == 0 or known.mean() < LEAST_WIND_SHARE:
        return None
    mean_east, mean_north = float(east[known].mean()), float(north[known].mean())
    along = mean_east * math.sin(course_rad) + mean_north * math.cos(course_rad)
    return mean_east, mean_north, float(sd[known].mean()), along


def _mean_airspeed(speed: Floats, seconds: Floats) -> float | None:
    """Mean true airspeed over time, from the fixes that have one."""
    middle = 0.5 * (speed[1:] + speed[:-1])
    known = np.isfinite(middle)
    total = float(seconds[known].sum())
    return None if total <= 0 else float((middle[known] * seconds[known]).sum()) / total


def smoothed_height_sd_m(motion: Motion) -> float:
    """Short-term standard deviation of one smoothed height, m, from how the recorded heights scatter about it.

    At 1 s the smoothed height errs a little more than the recorded ones scatter: half of the sensor's noise
    lasts for seconds. At 5 s it is half as much again (measured on simulated flights with 0.3-1 m of noise).
    Between fixes far apart the air's ups and downs come on top: their random walk is pinned at the fixes only.
    """
    scatter = motion.measured_altitude_m - motion.altitude_m
    scatter = scatter[np.isfinite(scatter)]
    if scatter.size < 2:
        return 1.0
    typical_m = 1.4826 * float(np.median(np.abs(scatter)))
    noise_m = max(LEAST_HEIGHT_SD_M, typical_m * (1.1 + 0.1 * min(motion.interval_s, 6.0)))
    return math.hypot(noise_m, math.sqrt(CLIMB_ROUGHNESS_M2PS3 * min(motion.interval_s, 20.0) ** 3 / 100.0))


def height_change_sd_m(motion: Motion, duration_s: float, change_m: float, height_sd_m: float) -> float:
    """Standard deviation of a height difference over this time, m (M 5; GNSS altitude wanders, M 1)."""
    ends_m2 = 2.0 * height_sd_m**2
    if motion.altitude_source == "pressure":
        ends_m2 += (PRESSURE_DRIFT_MPS * duration_s) ** 2
    else:
        ends_m2 += 2.0 * GNSS_WANDER_SD_M**2 * (1.0 - math.exp(-duration_s / GNSS_WANDER_TIME_S))
    return math.sqrt(ends_m2 + (SCALE_SD_FACTOR * motion.altitude_scale_sd * change_m) ** 2)
