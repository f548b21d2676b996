"""A stretch of flight from one time to another: way, height, wind and speeds, and how far to trust them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flightlog.air.air import Air
from flightlog.air.ground_way import ground_way_m
from flightlog.arrays import Bools, Floats, Ints, lengths, middle, zero_where_unknown
from flightlog.motion.interpolation import StraightLines
from flightlog.motion.motion import Motion
from flightlog.settings import Settings

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
SILENT_CLIMB_SPREAD_MPS = 2.0
"""How much the climb before and after some moment of a gap may differ: out of sink into a thermal and back."""
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
    path_tailwind_mps: float | None  # along the way flown, mean over time
    silent_s: float  # time inside gaps of the recording
    way_sd_share: float  # standard deviation of the way over the ground, as a share of it


class _Sums:
    """Running sums over the whole log, so that a stretch costs two look-ups a figure."""

    def __init__(self, motion: Motion, air: Air):
        time = motion.time_s
        seconds = np.diff(time)
        speed = 0.5 * (air.airspeed_mps[1:] + air.airspeed_mps[:-1])
        known = np.isfinite(speed)
        self.time_s = time
        self.way_m = self.way_until_m = np.empty(0)  # those asked for last
        self.columns = np.zeros((7, time.size))  # of the steps, then summed in place
        steps = self.columns[:, 1:]
        columns = (motion.velocity_east_mps, motion.velocity_north_mps, motion.altitude_m, air.density_kgm3)
        for step, values in zip(steps[:4], columns, strict=True):
            np.multiply(0.5 * (values[1:] + values[:-1]), seconds, out=step)
        np.multiply(np.where(known, speed, 0.0), seconds, out=steps[4])
        np.multiply(known, seconds, out=steps[5])
        np.multiply(motion.piece[1:] != motion.piece[:-1], seconds, out=steps[6])
        np.cumsum(steps, axis=1, out=steps)
        self.winds = np.zeros((5, time.size + 1))
        wind = (air.wind_east_mps, air.wind_north_mps, air.wind_sd_mps, _along_path_mps(motion, air))
        windy = np.isfinite(wind[0]) & np.isfinite(wind[1]) & np.isfinite(wind[2])
        for sums, values in zip(self.winds[:4], wind, strict=True):
            sums[1:] = np.where(windy, values, 0.0)
        self.winds[4, 1:] = windy
        np.cumsum(self.winds[:, 1:], axis=1, out=self.winds[:, 1:])

    def between(self, start_s: Floats, end_s: Floats, way_m: Floats) -> Floats:
        """(8, k) integrals from start to end: east, north, height, density, airspeed, its time, silence, way."""
        ends = StraightLines(np.stack([start_s, end_s]), self.time_s)
        if way_m is not self.way_m:
            self.way_m, self.way_until_m = way_m, np.concatenate([[0.0], np.cumsum(way_m)])
        before, after = (
            np.concatenate([self.columns[:, fixes], self.way_until_m[None, fixes]])
            for fixes in (ends.before, ends.after)
        )
        at = before + ends.share * (after - before)
        return np.asarray(at[:, 1] - at[:, 0])

    def winds_between(self, first: Ints, stop: Ints) -> tuple[Floats, Bools]:
        """(4, k) mean wind of the fixes east, north, its sd, and along the path; (k,) whether it is known."""
        sums = self.winds[:, stop] - self.winds[:, first]
        count = sums[4]
        known = (stop > first) & (count >= LEAST_WIND_SHARE * (stop - first))
        return sums[:4] / np.maximum(count, 1.0), known


def _along_path_mps(motion: Motion, air: Air) -> Floats:
    """The wind's part along the track over the ground at every fix, (n,); 0 where nothing moves."""
    east, north = zero_where_unknown(motion.velocity_east_mps), zero_where_unknown(motion.velocity_north_mps)
    speed = np.maximum(lengths(east, north), 1e-9)
    return np.asarray((air.wind_east_mps * east + air.wind_north_mps * north) / speed)


@lru_cache(maxsize=1)  # asked for by every measure of every flight of a log
def _sums_of(motion: Motion, air: Air) -> _Sums:
    """The running sums of a log."""
    return _Sums(motion, air)


def stretches(
    motion: Motion,
    air: Air,
    spans_s: Sequence[tuple[float, float]],
    settings: Settings,
    way_m: Floats | None = None,
) -> list[Stretch]:
    """The flight over each of these times (start, end), UTC seconds.

    `way_m` is `ground_way_m` of the same motion, where it is at hand. Raises ValueError unless each end is after
    its start.
    """
    if not spans_s:
        return []
    start_s, end_s = np.array(spans_s, dtype=np.float64).T
    if not np.all(end_s > start_s):
        raise ValueError("every end must lie after its start")
    sums = _sums_of(motion, air)
    way_m = ground_way_m(motion, air, settings) if way_m is None else way_m
    east, north, height, density, air_way, air_s, silent_s, way = sums.between(start_s, end_s, way_m)
    first, stop = np.searchsorted(motion.time_s, np.stack([start_s, end_s]), side="right")
    wind, windy = sums.winds_between(np.maximum(first - 1, 0), np.minimum(stop + 1, motion.time_s.size))
    duration_s, course = end_s - start_s, np.arctan2(east, north)
    held_s = np.minimum(end_s, motion.time_s[-1]) - np.maximum(start_s, motion.time_s[0])
    held_s = np.maximum(held_s, 1e-9)
    start_m, end_m = np.interp(np.stack([start_s, end_s]), motion.time_s, motion.altitude_m)
    way_sd_share = np.hypot(
        math.hypot(GROUND_WAY_SHARE, GROUND_WAY_SHARE_PER_S * motion.interval_s),
        GROUND_WAY_SHARE_SILENT * silent_s / duration_s,
    )
    columns = (
        duration_s.tolist(),
        (end_m - start_m).tolist(),
        _gain_sd_m(motion, start_s, end_s, end_m - start_m).tolist(),
        start_m.tolist(),
        end_m.tolist(),
        np.fmax(np.maximum(start_m, end_m), _tops_m(motion, first, stop)).tolist(),
        way.tolist(),
        (np.degrees(course) % 360.0).tolist(),
        (height / held_s).tolist(),
        (density / held_s).tolist(),
        _known(air_way / np.maximum(air_s, 1e-9) * duration_s, windy & (air_s > 0.0)),
        *(_known(column, windy) for column in wind[:3]),
        _known(wind[0] * np.sin(course) + wind[1] * np.cos(course), windy),
        _known(wind[3], windy),
        silent_s.tolist(),
        way_sd_share.tolist(),
    )
    return [Stretch(*row) for row in zip(*columns, strict=True)]


def _known(values: Floats, known: Bools) -> list[float | None]:
    """The values as they stand in a Stretch: None where they are not known."""
    return [value if told else None for value, told in zip(values.tolist(), known.tolist(), strict=True)]


def _tops_m(motion: Motion, first: Ints, stop: Ints) -> Floats:
    """Highest smoothed altitude of the fixes first..stop-1, (k,); -inf without any."""
    altitude_m = np.append(motion.altitude_m, -np.inf)
    tops_m = np.maximum.reduceat(altitude_m, np.stack([first, stop], axis=1).ravel())[::2]
    return np.where(stop > first, tops_m, -np.inf)


def _gain_sd_m(motion: Motion, start_s: Floats, end_s: Floats, gain_m: Floats) -> Floats:
    """Standard deviation of the height gained, m: of both heights, of gaps, and of heights that come late."""
    own_m = height_changes_sd_m(motion, end_s - start_s, gain_m, smoothed_height_sd_m(motion))
    silent_m = np.hypot(*_silent_height_sd_m(motion, np.stack([start_s, end_s])))
    return np.hypot(np.hypot(own_m, silent_m), _late_height_sd_m(motion, start_s, end_s))


def _late_height_sd_m(motion: Motion, start_s: Floats, end_s: Floats) -> Floats:
    """Error of height differences from heights that come late, m: the climb at both ends is not the same."""
    climbs = np.interp(np.stack([start_s, end_s]), motion.time_s, zero_where_unknown(motion.climb_mps))
    return np.asarray(motion.altitude_lag_sd_s * np.abs(climbs[1] - climbs[0]))


def _silent_height_sd_m(motion: Motion, at_s: Floats) -> Floats:
    """Error of heights drawn straight across a gap of the recording, m, one standard deviation; 0 outside gaps."""
    after = np.clip(np.searchsorted(motion.time_s, at_s), 1, motion.time_s.size - 1)
    since, gap_s = at_s - motion.time_s[after - 1], motion.time_s[after] - motion.time_s[after - 1]
    share = np.clip(since / np.maximum(gap_s, 1e-9), 0.0, 1.0)
    inside = motion.piece[after - 1] != motion.piece[after]
    return np.where(inside, SILENT_CLIMB_SPREAD_MPS * gap_s * share * (1.0 - share), 0.0)


@lru_cache(maxsize=1)
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
    typical_m = 1.4826 * middle(np.abs(scatter))
    noise_m = max(LEAST_HEIGHT_SD_M, typical_m * (1.1 + 0.1 * min(motion.interval_s, 6.0)))
    return math.hypot(noise_m, math.sqrt(CLIMB_ROUGHNESS_M2PS3 * min(motion.interval_s, 20.0) ** 3 / 100.0))


def height_changes_sd_m(
    motion: Motion, duration_s: Floats, change_m: Floats | float, height_sd_m: float
) -> Floats:
    """Standard deviations of height differences over these times, m (M 5; GNSS altitude wanders, M 1)."""
    ends_m2 = 2.0 * height_sd_m**2
    if motion.altitude_source == "pressure":
        drift_m2 = (PRESSURE_DRIFT_MPS * duration_s) ** 2
    else:
        drift_m2 = 2.0 * GNSS_WANDER_SD_M**2 * (1.0 - np.exp(-duration_s / GNSS_WANDER_TIME_S))
    scale_m = SCALE_SD_FACTOR * motion.altitude_scale_sd * change_m
    return np.asarray(np.sqrt(ends_m2 + drift_m2 + scale_m**2))
