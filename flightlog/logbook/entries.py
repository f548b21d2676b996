"""What a debriefed log brings to the logbook: its bytes, its results, and the rows to look flights up by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from flightlog.debriefing import Debrief
from flightlog.distances.best import best_distances
from flightlog.distances.results import BestCourse, FlightDistances
from flightlog.measures.results import Climb, Flight, Pass

_DISTANCES = ("open_m", "free_3_turnpoints_m")


@dataclass(frozen=True)
class FlightFacts:
    """One flight, as the logbook's table `flights` holds it; places and names are those of the log."""

    number: int
    local_date: str | None  # where it took off; None for a log without a date
    zone: str
    utc_offset_s: float
    takeoff_s: float  # seconds since 1970-01-01 UTC, as all times `_s` here that are no durations
    landing_s: float
    pilot: str | None
    wing: str | None
    takeoff_kind: str
    takeoff_place: str | None
    takeoff_lat_deg: float
    takeoff_lon_deg: float
    takeoff_altitude_m: float | None
    landing_kind: str
    landing_place: str | None
    landing_lat_deg: float
    landing_lon_deg: float
    landing_altitude_m: float | None
    duration_s: float
    track_length_m: float
    gain_m: float | None
    max_altitude_m: float | None
    open_distance_m: float | None
    free_distance_m: float | None  # over up to three turnpoints
    go_arounds: int
    possible_go_arounds: int


@dataclass(frozen=True)
class ClimbFacts:
    """One climb."""

    number: int
    start_s: float
    end_s: float
    mode: str
    gain_m: float | None
    base_altitude_m: float | None
    top_altitude_m: float | None
    mean_climb_mps: float | None
    best_30s_climb_mps: float | None
    turn_direction: str | None


@dataclass(frozen=True)
class PassFacts:
    """One approach to a landing place."""

    number: int
    place: str | None
    start_s: float
    end_s: float
    outcome: str
    certainty: str
    lowest_height_m: float
    decision_height_m: float | None
    decision_distance_m: float | None


@dataclass(frozen=True)
class FlightEntry:
    """A flight with its climbs and passes."""

    facts: FlightFacts
    climbs: tuple[ClimbFacts, ...]
    passes: tuple[PassFacts, ...]


@dataclass(frozen=True)
class LogEntry:
    """A log, ready to be put into the logbook; `original` and `result` are packed (flightlog.logbook.packing)."""

    sha256: str
    name: str
    date: str | None
    original: bytes
    original_bytes: int
    result: bytes
    result_bytes: int
    analysis: str
    recipe: bytes
    flights: tuple[FlightEntry, ...]


def flight_entries(debrief: Debrief, zone: tzinfo, zone_name: str) -> tuple[FlightEntry, ...]:
    """The flights of a debrief for the logbook, dated by the clock of that zone."""
    distances = best_distances(debrief, kinds=_DISTANCES)
    return tuple(
        FlightEntry(
            _facts(debrief, flight, best, zone, zone_name),
            tuple(_climb(climb) for climb in flight.climbs),
            tuple(_pass(one) for one in flight.passes),
        )
        for flight, best in zip(debrief.flights, distances, strict=True)
    )


def _facts(debrief: Debrief, flight: Flight, best: FlightDistances, zone: tzinfo, zone_name: str) -> FlightFacts:
    """The row of one flight."""
    takeoff, landing, log = flight.takeoff, flight.landing, debrief.log
    local = takeoff.time.astimezone(zone)
    offset = local.utcoffset()
    return FlightFacts(
        number=flight.number,
        local_date=local.date().isoformat() if log.date else None,
        zone=zone_name,
        utc_offset_s=offset.total_seconds() if offset else 0.0,
        takeoff_s=_seconds(takeoff.time),
        landing_s=_seconds(landing.time),
        pilot=log.pilot,
        wing=debrief.wing.name if debrief.wing else log.wing,
        takeoff_kind=takeoff.kind,
        takeoff_place=takeoff.place,
        takeoff_lat_deg=takeoff.lat_deg,
        takeoff_lon_deg=takeoff.lon_deg,
        takeoff_altitude_m=takeoff.altitude_m,
        landing_kind=landing.kind,
        landing_place=landing.place,
        landing_lat_deg=landing.lat_deg,
        landing_lon_deg=landing.lon_deg,
        landing_altitude_m=landing.altitude_m,
        duration_s=flight.duration_s,
        track_length_m=flight.track_length_m,
        gain_m=flight.altitude_gain_m,
        max_altitude_m=flight.max_altitude_m,
        open_distance_m=_length_m(best.open_m),
        free_distance_m=_length_m(best.free_3_turnpoints_m),
        go_arounds=_go_arounds(flight.passes, "sure"),
        possible_go_arounds=_go_arounds(flight.passes, "possible"),
    )


def _climb(climb: Climb) -> ClimbFacts:
    """The row of one climb."""
    return ClimbFacts(
        number=climb.number,
        start_s=_seconds(climb.start),
        end_s=_seconds(climb.end),
        mode=climb.mode,
        gain_m=climb.gain_m,
        base_altitude_m=climb.base_altitude_m,
        top_altitude_m=climb.top_altitude_m,
        mean_climb_mps=climb.mean_climb_mps.value if climb.mean_climb_mps else None,
        best_30s_climb_mps=climb.best_30s_climb_mps,
        turn_direction=climb.turn_direction,
    )


def _pass(one: Pass) -> PassFacts:
    """The row of one pass."""
    return PassFacts(
        number=one.number,
        place=one.place,
        start_s=_seconds(one.start),
        end_s=_seconds(one.end),
        outcome=one.outcome,
        certainty=one.certainty,
        lowest_height_m=one.lowest_height_m,
        decision_height_m=one.decision.height_m if one.decision else None,
        decision_distance_m=one.decision.distance_m if one.decision else None,
    )


def _seconds(moment: datetime) -> float:
    """Seconds since 1970, to the hundredth, as the results are published."""
    return round(moment.timestamp(), 2)


def _length_m(course: BestCourse | None) -> float | None:
    """Length of a course."""
    return course.distance_m if course else None


def _go_arounds(passes: Sequence[Pass], certainty: str) -> int:
    """How many passes were broken off."""
    return sum(one.outcome == "go_around" and one.certainty == certainty for one in passes)
