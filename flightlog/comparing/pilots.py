"""One pilot's log on the task: what is kept of a Debrief, so that fifty of them fit into memory."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

import numpy as np

from flightlog.air.ground_way import ground_way_m
from flightlog.air.stretches import Stretch, stretches
from flightlog.arrays import Floats, Ints
from flightlog.comparing.crossings import Fixes, Progress, flights_of, follow
from flightlog.debriefing import Debrief
from flightlog.measures.results import Climb
from flightlog.motion.interpolation import motion_at
from flightlog.phases.phases import Phase
from flightlog.tasks.routes import TaskWays
from flightlog.tasks.task import Tolerance

COURSE_SAMPLES = 1500
"""Of one pilot's way, for pictures: every 5 s of a flight of two hours, every 10 s of one of four."""
DONE_TOGETHER = ("climb", "glide")
"""Kinds of phase that are told apart; all others are search."""


@dataclass(frozen=True)
class Piece:
    """A part of a leg in which the pilot did one thing, with its sums."""

    leg: int
    kind: str  # climb | glide | search
    flown: Stretch


@dataclass(frozen=True, eq=False)
class ClimbPlace:
    """A climb in circles and where it was, at moments half a minute apart: k of them."""

    climb: Climb
    time_s: Floats  # (k,)
    altitude_m: Floats
    east_m: Floats  # on the plane of the task
    north_m: Floats
    wind_east_mps: float
    wind_north_mps: float


@dataclass(frozen=True, eq=False)
class PilotRecord:
    """What one log tells about the task. Arrays `time_s` and so on are samples of the way, (n,)."""

    name: str
    file: str
    wing: str | None
    sha256: str
    progress: Progress
    takeoff: datetime | None
    landing: datetime | None
    first_fix_s: float
    last_fix_s: float
    takeoff_s: float | None
    starts_in_air: bool
    ends_in_air: bool
    utc_offset_s: float | None
    pieces: tuple[Piece, ...]
    legs: tuple[Stretch | None, ...]  # None: a leg of no time, between cylinders about one place
    altitudes_m: tuple[float | None, ...]  # at each cylinder reached
    distance_m: float
    to_speed_end_m: float
    missed: tuple[tuple[int, float], ...]  # cylinders passed by: which, and how far beside their boundary
    flights_after: int
    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    altitude_m: Floats
    climb_mps: Floats
    to_goal_m: Floats
    to_speed_end_course_m: Floats
    climbs: tuple[ClimbPlace, ...]
    task_file: str = ""


def pilot_record(debrief: Debrief, ways: TaskWays, tolerance: Tolerance) -> PilotRecord:
    """What one log tells about the task."""
    from flightlog.comparing.missing import missed_cylinders

    motion, track = debrief.motion, debrief.track
    fixes = Fixes(
        motion.time_s,
        track.latitude_deg[motion.fix],
        track.longitude_deg[motion.fix],
        flights_of([(span.first, span.stop) for span in debrief.spans]),
    )
    progress = follow(ways.task, tolerance, fixes)
    legs, pieces = _pieces(debrief, progress)
    counted = _counted_flight(debrief, progress)
    takeoff = debrief.flights[counted].takeoff.time if debrief.flights else None
    course = _course(debrief, progress, ways)
    return PilotRecord(
        name=debrief.log.pilot or debrief.log.file,
        file=debrief.log.file,
        wing=debrief.log.wing,
        sha256=debrief.log.sha256,
        progress=progress,
        takeoff=takeoff,
        landing=debrief.flights[counted].landing.time if debrief.flights else None,
        first_fix_s=float(motion.time_s[0]),
        last_fix_s=float(motion.time_s[-1]),
        takeoff_s=debrief.spans[counted].liftoff_s if debrief.spans else None,
        starts_in_air=bool(debrief.spans) and debrief.spans[0].starts_in_air,
        ends_in_air=bool(debrief.spans) and debrief.spans[counted].ends_in_air,
        utc_offset_s=track.header.utc_offset_s,
        pieces=pieces,
        legs=legs,
        altitudes_m=_altitudes(debrief, progress),
        distance_m=_distance_m(ways, fixes, progress),
        to_speed_end_m=float(course[-1][-1]) if course[-1].size else ways.to_here_m(ways.task.speed_end),
        missed=missed_cylinders(ways.task, tolerance, fixes, progress),
        flights_after=max(len(debrief.spans) - 1 - counted, 0),
        time_s=course[0],
        lat_deg=course[1],
        lon_deg=course[2],
        altitude_m=course[3],
        climb_mps=course[4],
        to_goal_m=course[5],
        to_speed_end_course_m=course[6],
        climbs=_climb_places(debrief, ways),
    )


def _counted_flight(debrief: Debrief, progress: Progress) -> int:
    """Index of the flight that counts; the last one where none was started."""
    for number, span in enumerate(debrief.spans):
        if progress.reached and span.first <= progress.first < span.stop:
            return number
    return max(len(debrief.spans) - 1, 0)


def _pieces(debrief: Debrief, progress: Progress) -> tuple[tuple[Stretch | None, ...], tuple[Piece, ...]]:
    """The legs between the cylinders reached, and what was done in each."""
    times = [reached.time_s for reached in progress.reached]
    phases = [phase for span in debrief.spans for phase in span.phases]
    spans: list[tuple[float, float]] = []
    named: list[tuple[int, str]] = []
    for leg, (start, end) in enumerate(pairwise(times)):
        if end <= start:
            continue
        spans.append((start, end))
        named.append((leg, "leg"))
        for kind, first, last in _parts(phases, start, end):
            spans.append((first, last))
            named.append((leg, kind))
    motion, settings = debrief.motion, debrief.settings
    way_m = ground_way_m(motion, debrief.air, settings) if spans else None
    flown = stretches(motion, debrief.air, spans, settings, way_m)
    whole = {leg: part for part, (leg, kind) in zip(flown, named, strict=True) if kind == "leg"}
    pieces = (Piece(leg, kind, part) for part, (leg, kind) in zip(flown, named, strict=True) if kind != "leg")
    return tuple(whole.get(leg) for leg in range(max(len(times) - 1, 0))), tuple(pieces)


def _parts(phases: Sequence[Phase], start_s: float, end_s: float) -> list[tuple[str, float, float]]:
    """What was done between two moments, end to end: climb, glide or search."""
    parts: list[tuple[str, float, float]] = []
    at = start_s
    for phase in phases:
        first, last = max(phase.start_s, at), min(phase.end_s, end_s)
        if last <= first:
            continue
        if first > at:
            parts.append(("search", at, first))
        kind = phase.kind if phase.kind in DONE_TOGETHER else "search"
        parts.append((kind, first, last))
        at = last
    if at < end_s:
        parts.append(("search", at, end_s))
    return parts


def _altitudes(debrief: Debrief, progress: Progress) -> tuple[float | None, ...]:
    """Altitude at each cylinder reached."""
    motion = debrief.motion
    times = [reached.time_s for reached in progress.reached]
    altitudes = np.interp(np.array(times), motion.time_s, motion.altitude_m)
    return tuple(float(value) if np.isfinite(value) else None for value in altitudes)


def _distance_m(ways: TaskWays, fixes: Fixes, progress: Progress) -> float:
    """The task's length, less the shortest way left from any fix after the last cylinder reached.

    FAI/CIVL GAP, annex to Sporting Code Section 7, edition 2017. Without a start, all fixes in flight count, but
    nothing beyond the start.
    """
    task = ways.task
    chosen = _fixes_that_count(ways, fixes, progress)
    if progress.reached and progress.reached[-1].cylinder == len(task.cylinders) - 1:
        return ways.distance_m
    if chosen.size == 0:
        return 0.0
    following = progress.reached[-1].cylinder + 1 if progress.reached else ways.plane.first
    _, least_m = ways.least_way_left_m(fixes.lat_deg[chosen], fixes.lon_deg[chosen], following)
    most_m = ways.distance_m if progress.reached else ways.to_here_m(task.start)
    return min(max(ways.distance_m - least_m, 0.0), most_m)


def _fixes_that_count(ways: TaskWays, fixes: Fixes, progress: Progress) -> Ints:
    """Fixes in flight after the last cylinder reached, up to the deadline."""
    deadline = ways.task.deadline_s
    if progress.reached:
        chosen = np.arange(progress.reached[-1].next_fix, progress.stop)
        chosen = chosen if chosen.size else np.array([max(progress.stop - 1, 0)])
    else:
        chosen = np.concatenate(
            [np.zeros(0, np.int64), *(np.arange(first, stop) for first, stop in fixes.flights)]
        )
    return chosen if deadline is None else chosen[fixes.time_s[chosen] <= deadline]


def _course(debrief: Debrief, progress: Progress, ways: TaskWays) -> tuple[Floats, ...]:
    """Samples of the way: time, latitude, longitude, altitude, climb, way left to goal and to the speed end."""
    motion = debrief.motion
    if not debrief.spans:
        return tuple(np.zeros(0) for _ in range(7))
    start_s, end_s = debrief.spans[0].liftoff_s, debrief.spans[-1].touchdown_s
    step_s = max(1.0, np.ceil((end_s - start_s) / COURSE_SAMPLES))
    times = np.arange(np.ceil(start_s), end_s, step_s)
    samples = motion_at(motion, times)
    lat, lon = motion.plane.to_degrees(samples.east_m, samples.north_m)
    east, north = ways.plane.plane.to_plane(lat, lon)
    to_goal = _ways_left(times, east, north, progress, ways, len(ways.task.cylinders) - 1)
    to_end = _ways_left(times, east, north, progress, ways, ways.task.speed_end)
    return times, lat, lon, samples.altitude_m, samples.climb_mps, to_goal, to_end


def _ways_left(
    times: Floats, east: Floats, north: Floats, progress: Progress, ways: TaskWays, last: int
) -> Floats:
    """The shortest way left to a cylinder at every sample, never growing; the whole one before the start."""
    task = ways.task
    tables = ways.to_goal if last == len(task.cylinders) - 1 else ways.to_speed_end
    left = np.full(times.size, ways.to_here_m(last))
    flown_until = times[-1] if times.size else 0.0
    for reached in progress.reached:
        after = times >= reached.time_s
        if reached.cylinder >= last:
            left[after] = 0.0
            break
        following = ways.plane.target(reached.cylinder + 1)
        nexts = [one.time_s for one in progress.reached if one.cylinder == reached.cylinder + 1]
        chosen = np.flatnonzero(after & (times < (nexts[0] if nexts else flown_until + 1.0)) & np.isfinite(east))
        left[after] = np.nan
        left[chosen] = tables.way_m(east[chosen], north[chosen], following)
    left = np.fmin.accumulate(np.fmin(left, ways.to_here_m(last)))
    return np.asarray(left)


def _climb_places(debrief: Debrief, ways: TaskWays) -> tuple[ClimbPlace, ...]:
    """Every climb in circles that gained height, with its place."""
    motion = debrief.motion
    found = []
    for climb in (climb for flight in debrief.flights for climb in flight.climbs):
        if climb.mode != "circling" or not (climb.gain_m or 0.0) > 0.0:
            continue
        start, end = climb.start.timestamp(), climb.end.timestamp()
        period = climb.circle_period_s or 20.0
        knots = np.linspace(start, end, max(2, int((end - start) / 30.0) + 1))
        around = knots[:, None] + np.linspace(-0.5, 0.5, 9) * period
        samples = motion_at(motion, around.reshape(-1))
        lat, lon = motion.plane.to_degrees(samples.east_m, samples.north_m)
        east, north = (value.reshape(around.shape) for value in ways.plane.plane.to_plane(lat, lon))
        altitude = samples.altitude_m.reshape(around.shape)
        known = np.isfinite(east).any(axis=1) & np.isfinite(altitude).any(axis=1)
        if not known.any():
            continue
        wind = climb.wind
        found.append(
            ClimbPlace(
                climb,
                knots[known],
                np.nanmean(altitude[known], axis=1),
                np.nanmean(east[known], axis=1),
                np.nanmean(north[known], axis=1),
                wind.east_mps if wind else 0.0,
                wind.north_mps if wind else 0.0,
            )
        )
    return tuple(found)


def moment(time_s: float | None) -> datetime | None:
    """The UTC time, to a hundredth of a second."""
    return None if time_s is None else datetime.fromtimestamp(round(time_s, 2), tz=UTC)
