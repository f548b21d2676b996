"""Where the air of a thermal left the ground: traced down against the wind it drifted in.

A parcel that rises at w through wind W has come W h / w downwind from the ground h below; a column that leans and
stays over its source and a bubble that drifts off obey the same (M 10; von Kaenel 2010).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.air.field import wind_at
from flightlog.arrays import Floats
from flightlog.estimates import NORMAL_95
from flightlog.motion.motion import Motion
from flightlog.phases.grounds import Ground
from flightlog.settings import Settings

PARCEL_SHARE, PARCEL_SHARE_SD = 0.8, 0.35
"""Rise of a parcel on its way up, as a share of the rise the pilot met, and how uncertain it is (M 10)."""
CORE_PLACE_SD_M, CIRCLES_PLACE_SD_M = 35.0, 60.0
"""Per axis: of a core that was fitted, and of the middle of the circles in its stead (M 5)."""
GROUND_NEAR_M = ((100.0, 7.0), (250.0, 17.0), (500.0, 30.0))
"""How far the ground lies off that of a known place this near (M 10, median; the sd is 1.5 as much)."""
LAUNCH_SLOPE, LAUNCH_SLOPE_SD = 0.35, 0.25
"""How the ground falls before a launch, height by distance: nobody takes off on foot where it falls by less than
the glide of the wing, 0.1 to 0.15; slopes of 20 to 35 degrees are usual (common practice, no source)."""
FOOT_KNOWN_M = 50.0
"""A log whose lowest point lies less below a launch does not show the foot of its slope."""
GROUND_UNKNOWN_SHARE, GROUND_UNKNOWN_M = 0.35, 150.0
"""Farther away: this share of the height above the lowest ground known, and so much, in hill country (own)."""
GROUND_WITHIN_M = 5000.0
"""A known place farther from the log's track says nothing of the ground below it (own): a pilot's file of places
may hold all sites from the sea to the mountains."""
SOURCE_STEPS = 6
RAYLEIGH_95 = 2.448
"""Radius that holds 95 % of a round normal distribution, in standard deviations of one axis."""


@dataclass(frozen=True)
class ThermalSource:
    """Where the air of the thermal probably left the ground; within `radius_m` of it in 95 of 100 cases.

    The place is far less sure along the drift, which points to `drift_to_deg`, than across it: the standard
    deviations tell. `met_lat_deg`, `met_lon_deg` and `met_altitude_m` are where the air was met that was traced.
    """

    lat_deg: float
    lon_deg: float
    altitude_m: float  # of the ground assumed there
    radius_m: float
    note: str
    along_sd_m: float | None = None
    across_sd_m: float | None = None
    drift_to_deg: float | None = None
    met_lat_deg: float | None = None
    met_lon_deg: float | None = None
    met_altitude_m: float | None = None


@dataclass(frozen=True)
class Lift:
    """Where and when the thermal was met, to be traced down: place, its sd, height, and the rise of a parcel."""

    time_s: float
    east_m: float
    north_m: float
    place_sd_m: float
    altitude_m: float
    rise_mps: float


@dataclass(frozen=True)
class _Traces:
    """Where the air of each lift left the ground, in metres of the plane, and how sure that is; (n,) each."""

    east_m: Floats
    north_m: Floats
    ground_m: Floats
    near_m: Floats  # to the place whose ground is taken; infinite where that is the lowest ground known
    along_sd_m: Floats
    across_sd_m: Floats
    radius_m: Floats
    drift_to_deg: Floats


def trace_sources(
    motion: Motion, air: Air, lifts: list[Lift], grounds: tuple[Ground, ...], settings: Settings
) -> list[ThermalSource | None]:
    """The thermals traced down to the ground against the wind, all at once.

    None where the trace is no better than `thermal_trace_radius_m` of the settings.
    """
    if not lifts:
        return []
    lowest_m, lowest_is = _lowest_ground(motion, grounds)
    traces = _traced(air, lifts, grounds, lowest_m)
    met = np.array([lift.east_m for lift in lifts]), np.array([lift.north_m for lift in lifts])
    (lat, met_lat), (lon, met_lon) = motion.plane.to_degrees([traces.east_m, met[0]], [traces.north_m, met[1]])
    return [
        ThermalSource(
            lat_deg=float(lat[k]),
            lon_deg=float(lon[k]),
            altitude_m=float(traces.ground_m[k]),
            radius_m=float(traces.radius_m[k]),
            note=_how_traced(lift, traces.near_m[k], lowest_is),
            along_sd_m=float(traces.along_sd_m[k]),
            across_sd_m=float(traces.across_sd_m[k]),
            drift_to_deg=float(traces.drift_to_deg[k]),
            met_lat_deg=float(met_lat[k]),
            met_lon_deg=float(met_lon[k]),
            met_altitude_m=lift.altitude_m,
        )
        if traces.radius_m[k] <= settings.thermal_trace_radius_m
        else None
        for k, lift in enumerate(lifts)
    ]


def _traced(air: Air, lifts: list[Lift], grounds: tuple[Ground, ...], lowest_m: float) -> _Traces:
    """Where the air of each lift left the ground."""
    time, east, north, place_sd, altitude, rise = np.array(
        [(x.time_s, x.east_m, x.north_m, x.place_sd_m, x.altitude_m, x.rise_mps) for x in lifts]
    ).T
    ground = np.full(len(lifts), lowest_m)
    ground_sd = np.hypot(GROUND_UNKNOWN_SHARE * np.maximum(altitude - lowest_m, 0.0), GROUND_UNKNOWN_M)
    near_m = np.full(len(lifts), np.inf)
    step = (np.arange(SOURCE_STEPS) + 0.5) / SOURCE_STEPS
    for again in range(2):  # the second time with the ground that is known near the first answer
        age_s = np.maximum(altitude - ground, 0.0) / rise
        times = time[:, None] - age_s[:, None] * step
        heights = altitude[:, None] - np.maximum(altitude - ground, 0.0)[:, None] * step
        wind_east, wind_north, wind_sd = (
            x.reshape(times.shape).mean(axis=1) for x in wind_at(air, times.ravel(), heights.ravel())
        )
        source_east, source_north = east - wind_east * age_s, north - wind_north * age_s
        if again == 0:
            upwind = -np.stack([wind_east, wind_north]) / np.maximum(np.hypot(wind_east, wind_north), 1e-9)
            source = np.stack([source_east, source_north])
            ground, ground_sd, near_m = _ground_at(source, upwind, time, grounds, ground, ground_sd)
    stretch_sd = np.hypot(wind_east, wind_north) * np.hypot(age_s * PARCEL_SHARE_SD, ground_sd / rise)
    across_sd = np.hypot(place_sd, wind_sd * age_s)
    return _Traces(
        source_east,
        source_north,
        ground,
        near_m,
        along_sd_m=np.hypot(across_sd, stretch_sd),
        across_sd_m=across_sd,
        radius_m=np.hypot(RAYLEIGH_95 * across_sd, NORMAL_95 * stretch_sd),
        drift_to_deg=np.degrees(np.arctan2(wind_east, wind_north)) % 360.0,
    )


def _lowest_ground(motion: Motion, grounds: tuple[Ground, ...]) -> tuple[float, str]:
    """The lowest ground that the log or a place near its track tells of, m, and which of them it is."""
    log_m = float(np.nanmin(motion.altitude_m))
    west, east = float(np.nanmin(motion.east_m)), float(np.nanmax(motion.east_m))
    south, north = float(np.nanmin(motion.north_m)), float(np.nanmax(motion.north_m))
    levels = [
        float(ground.level_m.min())
        for ground in grounds
        if west - GROUND_WITHIN_M <= ground.east_m <= east + GROUND_WITHIN_M
        and south - GROUND_WITHIN_M <= ground.north_m <= north + GROUND_WITHIN_M
    ]
    lowest_m = min(levels, default=log_m)
    if lowest_m < log_m:
        return lowest_m, "the lowest place known near the track"
    return log_m, "the lowest height of the log"


def _how_traced(lift: Lift, near_m: float, lowest_is: str) -> str:
    """What the trace took for granted."""
    known = (
        f"ground judged by a place known {near_m:.0f} m away"
        if np.isfinite(near_m)
        else f"ground taken at {lowest_is}"
    )
    return f"rising at {lift.rise_mps:.1f} m/s, drifting freely with the wind; {known}"


def _ground_at(
    source_m: Floats,
    upwind: Floats,
    time_s: Floats,
    grounds: tuple[Ground, ...],
    otherwise_m: Floats,
    otherwise_sd_m: Floats,
) -> tuple[Floats, Floats, Floats]:
    """Height of the ground at these places, its sd, and how far away it is known: infinite where it is not.

    `source_m` are east and north, `upwind` the unit vectors against the wind, (2, n). Before a launch, which faces
    the wind, the ground falls, but not below `otherwise_m`, the lowest known, where that lies well below.
    """
    count = source_m.shape[1]
    level, sd, nearest = otherwise_m.copy(), otherwise_sd_m.copy(), np.full(count, np.inf)
    for ground in grounds:
        apart = source_m - np.array([[ground.east_m], [ground.north_m]])
        away = np.hypot(apart[0], apart[1])
        closer = (away < nearest) & (away <= GROUND_NEAR_M[-1][0])
        nearest = np.where(closer, away, nearest)
        before_m = np.maximum((apart * upwind).sum(axis=0), 0.0) if ground.takeoffs else np.zeros(count)
        here = ground.level_at(time_s)
        foot = np.where(otherwise_m < here - FOOT_KNOWN_M, otherwise_m, -np.inf)
        fallen = np.maximum(here - LAUNCH_SLOPE * before_m, foot)
        level = np.where(closer, fallen, level)
        for reach_m, typical_m in reversed(GROUND_NEAR_M):
            near_sd = np.hypot(1.5 * typical_m, LAUNCH_SLOPE_SD * before_m)
            sd = np.where(closer & (away <= reach_m), near_sd, sd)
    return level, sd, nearest
