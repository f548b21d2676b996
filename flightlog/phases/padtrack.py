"""A flight as seen from one piece of ground: height above it, distance from it, and where the pilot is aiming."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Bools, Floats, lengths, middle, zero_where_unknown
from flightlog.motion.motion import Motion
from flightlog.phases.grid import FlightGrid, flight_grid
from flightlog.phases.grounds import Ground
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings


@dataclass(frozen=True, eq=False)
class PadTrack:
    """The flight from lift-off to touchdown, n steps of 1 s (`step_s`), relative to a ground."""

    time_s: Floats  # (n,) UTC seconds
    step_s: float
    height_m: Floats  # above the ground's level at that time
    distance_m: Floats  # from its centre
    aim_m: Floats  # from the nearer of its centre and the touchdowns known there
    east_m: Floats  # from the centre
    north_m: Floats
    velocity_east_mps: Floats  # over the ground
    velocity_north_mps: Floats
    air_east_mps: Floats  # through the air
    air_north_mps: Floats
    climb_mps: Floats
    wind_known: Bools  # strong and sure enough to have a direction
    calm: Bools  # known to be too light to matter
    recorded: Bools  # False inside gaps
    height_sd_m: Floats  # standard deviation of the heights above the ground

    def steps(self, duration_s: float) -> int:
        """How many steps a duration holds, at least one."""
        return max(1, round(duration_s / self.step_s))

    def index(self, time_s: float) -> int:
        """The step nearest to a time, within the track."""
        return min(max(round((time_s - self.time_s.item(0)) / self.step_s), 0), self.time_s.size - 1)

    @cached_property
    def usual_airspeed_mps(self) -> float:
        """Median airspeed of the flight: what this pilot flies when nothing else asks for another speed."""
        return middle(lengths(self.air_east_mps, self.air_north_mps))

    @cached_property
    def into_wind(self) -> Floats:
        """Cosine of the angle from straight into the wind to the air heading; NaN where no wind is known."""
        wind_east = self.velocity_east_mps - self.air_east_mps
        wind_north = self.velocity_north_mps - self.air_north_mps
        size = lengths(wind_east, wind_north) * lengths(self.air_east_mps, self.air_north_mps)
        along = -(wind_east * self.air_east_mps + wind_north * self.air_north_mps)
        known = self.wind_known & (size > 0)
        cosine = np.divide(along, size, out=np.full(size.shape, np.nan), where=known)
        into: Floats = np.minimum(np.maximum(cosine, -1.0), 1.0)
        return into

    @cached_property
    def across_wind_mps(self) -> Floats:
        """Speed over the ground square to the wind, m/s, 0 and more; NaN where no wind is known."""
        wind_east = self.velocity_east_mps - self.air_east_mps
        wind_north = self.velocity_north_mps - self.air_north_mps
        size = lengths(wind_east, wind_north)
        across = np.abs(self.velocity_east_mps * wind_north - self.velocity_north_mps * wind_east)
        known = self.wind_known & (size > 0)
        speed: Floats = np.divide(across, size, out=np.full(size.shape, np.nan), where=known)
        return speed


POINTS_AT_ONCE = 20_000
"""Distances worked out together: few enough to stay in the processor's cache."""
CALM_MPS = 2.0
"""In less wind than this nobody minds which way he lands (trade: tails of 5 km/h are run off)."""


def pad_track(motion: Motion, air: Air, span: FlightSpan, ground: Ground, settings: Settings) -> PadTrack:
    """The flight relative to the ground, at steps of 1 s whatever the recorder's interval.

    Heights are differences of the log's own (pressure) heights: the ground's level comes from the same log. Wind
    that is not known counts as none.
    """
    grid = flight_grid(motion, air, span.liftoff_s, span.touchdown_s)
    flown = _flown(motion, air, grid)
    east, north = grid.east_m - ground.east_m, grid.north_m - ground.north_m
    return PadTrack(
        time_s=grid.time_s,
        step_s=grid.step_s,
        height_m=grid.altitude_m - ground.level_at(grid.time_s),
        distance_m=lengths(east, north),
        aim_m=distance_from_touches_m(ground, grid.east_m, grid.north_m),
        east_m=east,
        north_m=north,
        velocity_east_mps=flown.velocity_east_mps,
        velocity_north_mps=flown.velocity_north_mps,
        air_east_mps=flown.air_east_mps,
        air_north_mps=flown.air_north_mps,
        climb_mps=grid.climb_mps,
        wind_known=flown.wind_known,
        calm=flown.calm,
        recorded=flown.between_fixes_s <= settings.longest_bridge_s,
        height_sd_m=ground.heights_sd_m(grid.time_s, motion.altitude_source),
    )


@dataclass(frozen=True, eq=False)
class _Flown:
    """The columns of a PadTrack that are the same whatever the ground."""

    velocity_east_mps: Floats
    velocity_north_mps: Floats
    air_east_mps: Floats
    air_north_mps: Floats
    wind_known: Bools
    calm: Bools
    between_fixes_s: Floats  # from the fix before each step to the one after


@lru_cache(maxsize=1)  # a flight is looked at from one ground after the other
def _flown(motion: Motion, air: Air, grid: FlightGrid) -> _Flown:
    """Work them out for the steps of a flight."""
    lines, near = grid.lines, grid.near
    known, calm = _wind_kind(air)
    time_s = motion.time_s[near]
    return _Flown(
        velocity_east_mps=lines.at(motion.velocity_east_mps[near]),
        velocity_north_mps=lines.at(motion.velocity_north_mps[near]),
        air_east_mps=np.gradient(grid.air_east_m, grid.step_s),
        air_north_mps=np.gradient(grid.air_north_m, grid.step_s),
        wind_known=lines.at(known[near]) > 0.5,
        calm=lines.at(calm[near]) > 0.5,
        between_fixes_s=time_s[lines.after] - time_s[lines.before],
    )


def distance_from_touches_m(ground: Ground, east_m: Floats, north_m: Floats) -> Floats:
    """Distance of points of the plane from the nearer of a ground's centre and the touchdowns known there."""
    points_east = np.append(ground.touch_east_m, ground.east_m)[:, None]
    points_north = np.append(ground.touch_north_m, ground.north_m)[:, None]
    square = np.full(len(east_m), np.inf)
    block = max(1, POINTS_AT_ONCE // max(1, len(east_m)))
    for first in range(0, len(points_east), block):
        some = slice(first, first + block)
        apart = (east_m - points_east[some]) ** 2 + (north_m - points_north[some]) ** 2
        np.minimum(square, apart.min(axis=0), out=square)
    return np.asarray(np.sqrt(square))


@lru_cache(maxsize=1)  # each ground is looked at from every flight of the log
def _wind_kind(air: Air) -> tuple[Floats, Floats]:
    """1 where the wind has a known direction (no calm, twice its standard deviation); 1 where it is calm."""
    speed = lengths(air.wind_east_mps, air.wind_north_mps)
    sure = np.isfinite(speed) & (speed > np.maximum(CALM_MPS, 2.0 * zero_where_unknown(air.wind_sd_mps)))
    calm = np.isfinite(speed) & ~sure & (zero_where_unknown(air.wind_sd_mps) < CALM_MPS / 2)
    return sure.astype(np.float64), calm.astype(np.float64)
