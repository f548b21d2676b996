"""What a season keeps of each flight: figures, where climbs began and came from, where it was flown."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from flightlog.arrays import Floats, frozen_floats
from flightlog.debriefing import Debrief, LogSummary
from flightlog.estimates import NORMAL_95, Estimate, normal_estimate
from flightlog.measures.results import Climb, Event, Flight
from flightlog.motion.interpolation import motion_at
from flightlog.motion.motion import Motion

WAY_STEP_S = 15.0
"""The way flown is kept this often: 150 m of flying, finer than what is asked of it."""
LONGEST_STEP_S = 60.0
"""Between the corners that results alone tell, the way is straight: no stretch counts as one point for longer."""
MOST_WAY_POINTS = 6000
"""Of one flight: a day and a night."""
LEAST_SHARE_SD = 0.02
"""No figure of a climb's centring is surer than this (M 5)."""


@dataclass(frozen=True)
class TracedSource:
    """Where the air of a climb probably left the ground, how sure that is, and where it was met.

    Standard deviations along the drift, whose true direction is `drift_to_deg`, and across it.
    """

    lat_deg: float
    lon_deg: float
    ground_altitude_m: float
    along_sd_m: float
    across_sd_m: float
    drift_to_deg: float
    met_lat_deg: float
    met_lon_deg: float
    met_altitude_m: float


@dataclass(frozen=True)
class ClimbStart:
    """A circling climb as the map needs it: when and where it began, how strong it was, where it came from."""

    time_s: float  # UTC, seconds since 1970-01-01
    lat_deg: float
    lon_deg: float
    altitude_m: float | None
    mean_climb_mps: float | None
    gain_m: float | None
    source: TracedSource | None


@dataclass(frozen=True, eq=False)
class Way:
    """Where a flight was flown outside its circling climbs: k points, each for so many seconds."""

    lat_deg: Floats  # (k,)
    lon_deg: Floats  # (k,)
    seconds_s: Floats  # (k,)
    is_recorded: bool  # False: straight lines between the corners that the results tell


@dataclass(frozen=True, eq=False)
class SeasonFlight:
    """One flight of a season; a figure is None where the flight does not tell it."""

    file: str
    sha256: str
    has_date: bool
    pilot: str | None
    wing: str | None
    number: int
    takeoff: Event
    landing: Event
    duration_s: float
    altitude_gain_m: float | None
    glide_ratio_ground: Estimate | None
    glide_ratio_air: Estimate | None
    best_glide_ratio: Estimate | None
    mean_climb_mps: Estimate | None  # of its circling climbs together
    centred_share: Estimate | None  # of the climb that centred circles would have given
    go_arounds: int
    reviewed_landings: int  # landings at a place where approaches that were broken off are looked for
    launch_run_s: float | None
    launch_headwind_mps: Estimate | None
    aborted_runs: int | None  # None: not a launch on foot, or not known
    climbs: tuple[ClimbStart, ...]
    way: Way


def season_flights(debrief: Debrief) -> tuple[SeasonFlight, ...]:
    """What a season keeps of a debrief; the arrays of the whole log are let go."""
    return tuple(_kept(debrief.log, flight, recorded_way(debrief.motion, flight)) for flight in debrief.flights)


def season_flights_from_results(log: LogSummary, flights: Iterable[Flight]) -> tuple[SeasonFlight, ...]:
    """The same from results alone, as a logbook keeps them: the way flown is told by its corners only."""
    return tuple(_kept(log, flight, way_between_corners(flight)) for flight in flights)


def _kept(log: LogSummary, flight: Flight, way: Way) -> SeasonFlight:
    """One flight."""
    circling = [climb for climb in flight.climbs if climb.mode == "circling"]
    sure = [one.outcome for one in flight.passes if one.certainty == "sure"]
    launch, polar = flight.launch, flight.performance.polar
    aborted = launch.aborted_runs if launch else None
    return SeasonFlight(
        file=log.file,
        sha256=log.sha256,
        has_date=log.date is not None,
        pilot=log.pilot,
        wing=log.wing,
        number=flight.number,
        takeoff=flight.takeoff,
        landing=flight.landing,
        duration_s=flight.duration_s,
        altitude_gain_m=flight.altitude_gain_m,
        glide_ratio_ground=flight.performance.glide_ratio_ground,
        glide_ratio_air=flight.performance.glide_ratio_air,
        best_glide_ratio=polar.best_glide_ratio if polar else None,
        mean_climb_mps=mean_climb(circling),
        centred_share=mean_centred_share(circling),
        go_arounds=sure.count("go_around"),
        reviewed_landings=sure.count("landed"),
        launch_run_s=launch.run_duration_s if launch else None,
        launch_headwind_mps=launch.headwind_mps if launch else None,
        aborted_runs=None if aborted is None else len(aborted),
        climbs=tuple(start for climb in circling if (start := _climb_start(climb)) is not None),
        way=way,
    )


def mean_climb(climbs: Sequence[Climb]) -> Estimate | None:
    """Height gained over time taken in several climbs together; None without one whose gain is known."""
    known = [(climb, climb.mean_climb_mps) for climb in climbs if climb.mean_climb_mps is not None]
    seconds = [(climb.end - climb.start).total_seconds() for climb, _ in known]
    total = sum(seconds)
    if not total > 0.0:
        return None
    gained = sum(mean.value * time for (_, mean), time in zip(known, seconds, strict=True))
    variance = sum((sd_of(mean) * time) ** 2 for (_, mean), time in zip(known, seconds, strict=True))
    return normal_estimate(gained / total, math.sqrt(variance) / total)


def mean_centred_share(climbs: Sequence[Climb]) -> Estimate | None:
    """Mean share of what centred circles would have given, the surer climbs counting more; None without one."""
    shares = [climb.detail.centred_share for climb in climbs if climb.detail and climb.detail.centred_share]
    if not shares:
        return None
    weights = [1.0 / max(sd_of(share), LEAST_SHARE_SD) ** 2 for share in shares]
    mean = sum(share.value * weight for share, weight in zip(shares, weights, strict=True)) / sum(weights)
    return normal_estimate(mean, math.sqrt(1.0 / sum(weights)))


def sd_of(estimate: Estimate) -> float:
    """Standard deviation of an estimate, from its 95 % interval."""
    return (estimate.high - estimate.low) / (2.0 * NORMAL_95)


def _climb_start(climb: Climb) -> ClimbStart | None:
    """A climb as the map needs it; None where its place is not known."""
    if climb.start_lat_deg is None or climb.start_lon_deg is None:
        return None
    return ClimbStart(
        time_s=climb.start.timestamp(),
        lat_deg=climb.start_lat_deg,
        lon_deg=climb.start_lon_deg,
        altitude_m=climb.base_altitude_m,
        mean_climb_mps=climb.mean_climb_mps.value if climb.mean_climb_mps else None,
        gain_m=climb.gain_m,
        source=_traced(climb),
    )


def _traced(climb: Climb) -> TracedSource | None:
    """The source of a climb with all that says how sure it is; None where something of it is missing."""
    source = (climb.detail.source or climb.detail.wide_source) if climb.detail else None
    if source is None:
        return None
    told = (source.along_sd_m, source.across_sd_m, source.drift_to_deg)
    met = (source.met_lat_deg, source.met_lon_deg, source.met_altitude_m)
    numbers = [value for value in (*told, *met) if value is not None]
    if len(numbers) < len(told) + len(met):
        return None
    return TracedSource(source.lat_deg, source.lon_deg, source.altitude_m, *numbers)


def recorded_way(motion: Motion, flight: Flight) -> Way:
    """The way of a flight outside its circling climbs, as it was recorded."""
    start_s, end_s = flight.takeoff.time.timestamp(), flight.landing.time.timestamp()
    step = max(WAY_STEP_S, (end_s - start_s) / MOST_WAY_POINTS)
    times = np.arange(start_s + step / 2.0, end_s, step)
    circling = np.zeros(len(times), dtype=np.bool_)
    for climb in flight.climbs:
        if climb.mode == "circling":
            circling |= (times >= climb.start.timestamp()) & (times <= climb.end.timestamp())
    samples = motion_at(motion, times[~circling])
    known = np.isfinite(samples.east_m) & np.isfinite(samples.north_m)
    lat, lon = motion.plane.to_degrees(samples.east_m[known], samples.north_m[known])
    return Way(frozen_floats(lat), frozen_floats(lon), frozen_floats(np.full(lat.shape, step)), True)


def way_between_corners(flight: Flight) -> Way:
    """The way of a flight as straight lines between take-off, the ends of its climbs, and landing."""
    corners = [(flight.takeoff.time.timestamp(), flight.takeoff.lat_deg, flight.takeoff.lon_deg)]
    breaks = []  # stretches after these corners were circled
    for climb in flight.climbs:
        ends = (climb.start_lat_deg, climb.start_lon_deg, climb.end_lat_deg, climb.end_lon_deg)
        known = [value for value in ends if value is not None]
        if len(known) < len(ends):
            continue
        corners.append((climb.start.timestamp(), known[0], known[1]))
        if climb.mode == "circling":
            breaks.append(len(corners) - 1)
        corners.append((climb.end.timestamp(), known[2], known[3]))
    corners.append((flight.landing.time.timestamp(), flight.landing.lat_deg, flight.landing.lon_deg))
    parts = []
    for at, ((from_s, *start), (to_s, *end)) in enumerate(pairwise(corners)):
        if at in breaks or to_s <= from_s:
            continue
        count = min(math.ceil((to_s - from_s) / LONGEST_STEP_S), MOST_WAY_POINTS // 10)
        share = (np.arange(count) + 0.5) / count
        turn = (end[1] - start[1] + 180.0) % 360.0 - 180.0
        lon = (start[1] + share * turn + 180.0) % 360.0 - 180.0
        lat = start[0] + share * (end[0] - start[0])
        parts.append(np.stack([lat, lon, np.full(count, (to_s - from_s) / count)]))
    lat, lon, seconds = np.concatenate(parts, axis=1) if parts else np.empty((3, 0))
    return Way(frozen_floats(lat), frozen_floats(lon), frozen_floats(seconds), False)
