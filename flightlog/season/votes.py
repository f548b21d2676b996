"""Which climbs of a season speak for where thermals come from: one a day and spot."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.earth.geodesy import LocalPlane
from flightlog.season.calendar import local_date
from flightlog.season.records import ClimbStart, SeasonFlight, TracedSource
from flightlog.season.traces import Traces


@dataclass(frozen=True, eq=False)
class Vote:
    """A climb that speaks for its source: its day's number, and all flights that met it that day."""

    day: int
    flights: frozenset[int]
    climb: ClimbStart
    source: TracedSource


def days_of_flights(flights: Sequence[SeasonFlight], zone: tzinfo) -> Ints:
    """The number of each flight's day; a flight without a date has a day of its own."""
    names = [local_date(flight, zone) if flight.has_date else f"{at}" for at, flight in enumerate(flights)]
    numbers = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return np.array([numbers[name] for name in names], dtype=np.int64)


def votes_of(flights: Sequence[SeasonFlight], days: Ints, plane: LocalPlane) -> list[Vote]:
    """One vote for each day and spot: of climbs that may be of one thermal the surest.

    Circling the same thermal thrice makes no spot, nor do ten pilots in it on one day: that air rose there that
    day is one fact.
    """
    by_day: dict[int, list[Vote]] = {}
    for number, (flight, day) in enumerate(zip(flights, days.tolist(), strict=True)):
        own = by_day.setdefault(day, [])
        own += [Vote(day, frozenset([number]), climb, climb.source) for climb in flight.climbs if climb.source]
    return [vote for own in by_day.values() for vote in _once_each(own, plane)]


def _once_each(votes: list[Vote], plane: LocalPlane) -> list[Vote]:
    """The votes of one day, those of one thermal joined to the surest."""
    ordered = sorted(votes, key=lambda vote: vote.source.along_sd_m)
    traces = traces_of(ordered, plane)
    kept: list[int] = []
    joined: list[set[int]] = []
    for at, vote in enumerate(ordered):
        same = np.flatnonzero(traces.are_near(np.full(len(kept), at), np.array(kept, dtype=np.int64)))
        if same.size:
            joined[int(same[0])] |= vote.flights
        else:
            kept.append(at)
            joined.append(set(vote.flights))
    return [replace(ordered[at], flights=frozenset(own)) for at, own in zip(kept, joined, strict=True)]


def traces_of(votes: Sequence[Vote], plane: LocalPlane) -> Traces:
    """The votes in the plane."""
    rows = np.array(
        [
            (
                s.lat_deg, s.lon_deg, s.along_sd_m, s.across_sd_m, math.radians(s.drift_to_deg), s.met_lat_deg,
                s.met_lon_deg, s.met_altitude_m - s.ground_altitude_m, s.ground_altitude_m,
            )
            for s in (vote.source for vote in votes)
        ]
    ).reshape(-1, 9)  # fmt: skip
    east, north = plane.to_plane(rows[:, 0], rows[:, 1])
    met_east, met_north = plane.to_plane(rows[:, 5], rows[:, 6])
    turn = np.radians(plane.convergence_deg(rows[:, 0], rows[:, 1]))
    drift = np.hypot(met_east - east, met_north - north)
    return Traces(east, north, rows[:, 2], rows[:, 3], rows[:, 4] - turn, drift, rows[:, 7], rows[:, 8])


def met_of(votes: Sequence[Vote], plane: LocalPlane) -> tuple[Floats, Floats]:
    """Where the air of the votes was met, in the plane."""
    met = np.array([(vote.source.met_lat_deg, vote.source.met_lon_deg) for vote in votes]).reshape(-1, 2)
    east, north = plane.to_plane(met[:, 0], met[:, 1])
    return east, north
