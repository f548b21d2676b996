"""The thermal map: the climbs of a season traced to the ground, region by region, against where the flying was.

How good it is, by simulated seasons with 30 sources in 22 x 12 km (`python -m tests.truth.season_study`): the
share found of sources that 3 and that 5 days used, spots and those of them that are false, radii that hold the
source.

    season                    flights  seasons  3 days  5 days   sure (false)  possible (false)  radii hold
    rolling country                15       12    0.75    1.00      50 (1)         16 (0)           0.97
    rolling country                30       24    0.87    0.98     229 (2)         37 (1)           0.98
    rolling country               100        8    0.94    0.97     180 (0)         12 (4)           0.97
    hills, 250 m                  100        5    0.77    0.89      67 (1)          8 (0)           0.97
    one wind, slow parcels         30       16    0.82    0.93     119 (0)         55 (3)           0.99
    club, four pilots a day       100        5    0.90    0.96      94 (0)         15 (2)           0.95
    no source lasts a day          30       20       -       -       0              4 (4)
    the same, club                100        8       -       -       1 (1)          1 (1)
    the same, one wind             30       16       -       -       1 (1)          5 (5)
    climbs thrown on the ways      30       24       -       -       0             12 (12)

So 2 sure spots stood on 68 maps of chance, where 3 are allowed, and 7 in 100 possible ones were false over lasting
sources, where a quarter is. Radii are wide where one wind prevails, 350 m in the median: nothing tells how far the
climbs drifted down it. What the study does not have, a wind near the ground that is the same every day, the radius
does not hold (`flightlog.season.spot_places`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.earth.geodesy import LocalPlane, wrapped_deg
from flightlog.measures.used_places import cluster_contacts
from flightlog.season.meetings import Meetings, meetings_of
from flightlog.season.records import SeasonFlight
from flightlog.season.results import HourCount, Quartiles, ThermalCell, ThermalRegion, ThermalSpot
from flightlog.season.spots import Spot, find_spots
from flightlog.season.traces import Traces
from flightlog.season.traffic import Traffic, traffic_of
from flightlog.season.votes import Vote, days_of_flights, met_of, traces_of, votes_of

REGION_M = 60_000.0
"""Flights from take-offs farther apart are of two regions: so far a day's flight may go (common practice)."""
NEAR_M = 400.0
"""About a spot: where what was flown and what was expected is counted."""
LEAST_SHARE = 0.5
"""A climb is more likely than not from a spot: its flight counts for it."""
MEAN_RATE_HOURS = 0.2
"""Flying at the mean rate that is added to what was flown in each square: a square is crossed in 40 seconds."""
LEAST_CELL_HOURS = 0.05
MOST_CELLS_TOLD = 2500
CELL_M = 500.0
HOURS_A_DAY = 24
_DISC = np.array([(x / 5.0, y / 5.0) for x in range(-5, 6) for y in range(-5, 6) if x * x + y * y <= 25])
"""Points spread over a disc of radius 1."""


@dataclass(frozen=True, eq=False)
class _Way:
    """Where it was flown outside circling climbs: k points of a plane, hours at each, and its day's number."""

    east_m: Floats
    north_m: Floats
    hours: Floats
    day: Ints


def thermal_regions(flights: Sequence[SeasonFlight], zone: tzinfo) -> tuple[ThermalRegion, ...]:
    """The thermal map of each region flown in, most climbs first; those without a climb are left out.

    Climbs of one day that may be of one thermal are one vote (`flightlog.season.votes`).
    """
    if not flights:
        return ()
    ordered = sorted(flights, key=lambda one: (one.takeoff.time, one.file, one.number))
    lat, lon = (np.array([getattr(one.takeoff, name) for one in ordered]) for name in ("lat_deg", "lon_deg"))
    clusters = cluster_contacts(lat, lon, np.zeros(len(lat)), REGION_M, math.inf)
    regions = [
        [flight for flight, label in zip(ordered, clusters.place.tolist(), strict=True) if label == number]
        for number in range(len(clusters.latitude_deg))
    ]
    climbed = [own for own in regions if any(flight.climbs for flight in own)]
    climbed.sort(key=lambda own: -sum(len(flight.climbs) for flight in own))
    return tuple(_region(number, own, zone) for number, own in enumerate(climbed, start=1))


def _region(number: int, flights: Sequence[SeasonFlight], zone: tzinfo) -> ThermalRegion:
    """The map of one region."""
    first = flights[0].takeoff
    lat = float(np.median([flight.takeoff.lat_deg for flight in flights]))
    lon = first.lon_deg + float(np.median(wrapped_deg([f.takeoff.lon_deg - first.lon_deg for f in flights])))
    plane = LocalPlane(lat, float(wrapped_deg(lon)))
    days = days_of_flights(flights, zone)
    votes = votes_of(flights, days, plane)
    climbs = [climb for flight in flights for climb in flight.climbs]
    flown, moved = _ways(flights, days, plane)
    traces = traces_of(votes, plane)
    spots: tuple[ThermalSpot, ...] = ()
    cells: tuple[ThermalCell, ...] = ()
    cell_m = CELL_M
    if votes:
        traffic = traffic_of((moved.east_m, moved.north_m, moved.hours), (traces.east_m, traces.north_m))
        spots = tuple(
            _told(at, spot, votes, traffic, plane, zone)
            for at, spot in enumerate(find_spots(traces, _meetings(votes, traces, flown, plane)), start=1)
        )
        cell_m, cells = _cells(traces, traffic, plane)
    return ThermalRegion(
        number=number,
        lat_deg=plane.origin_lat_deg,
        lon_deg=plane.origin_lon_deg,
        flights=len(flights),
        climbs=len(climbs),
        traced_climbs=len(votes),
        hours_flown=float(flown.hours.sum()),
        has_recorded_ways=all(flight.way.is_recorded for flight in flights),
        strength_mps=_quartiles([climb.mean_climb_mps for climb in climbs], [1.0] * len(climbs)),
        hours=_hours([climb.time_s for climb in climbs], [1.0] * len(climbs), zone),
        spots=spots,
        cell_m=cell_m,
        cells=cells,
        note=None if votes else "of no climb enough is known to trace it to the ground",
    )


def _meetings(votes: Sequence[Vote], traces: Traces, flown: _Way, plane: LocalPlane) -> Meetings:
    """Where the votes were met, against where the flying was."""
    met = met_of(votes, plane)
    return meetings_of(
        met,
        (traces.east_m - met[0], traces.north_m - met[1]),
        np.array([vote.day for vote in votes]),
        (flown.east_m, flown.north_m, flown.hours, flown.day),
        traffic_of((flown.east_m, flown.north_m, flown.hours), met),
    )


def _ways(flights: Sequence[SeasonFlight], days: Ints, plane: LocalPlane) -> tuple[_Way, _Way]:
    """The ways flown, and where that flying could have met what rises from: moved as climbs are traced.

    Each flight's way is moved as its climbs are in the middle. A flight without a traced climb stays where it is.
    """
    flown, moved = [], []
    for flight, day in zip(flights, days.tolist(), strict=True):
        east, north = plane.to_plane(flight.way.lat_deg, flight.way.lon_deg)
        sources = [climb.source for climb in flight.climbs if climb.source is not None]
        places = np.array([(x.lat_deg, x.lon_deg, x.met_lat_deg, x.met_lon_deg) for x in sources]).reshape(-1, 4)
        moves = np.subtract(plane.to_plane(*places[:, :2].T), plane.to_plane(*places[:, 2:].T))
        move = np.median(moves, axis=1) if sources else np.zeros(2)
        hours, whole = flight.way.seconds_s / 3600.0, np.full(len(east), day)
        flown.append((east, north, hours, whole))
        moved.append((east + move[0], north + move[1], hours, whole))
    first, second = (
        tuple(np.concatenate(column) for column in zip(*parts, strict=True)) for parts in (flown, moved)
    )
    return _Way(*first), _Way(*second)


def _told(
    number: int, spot: Spot, votes: Sequence[Vote], traffic: Traffic, plane: LocalPlane, zone: tzinfo
) -> ThermalSpot:
    """A spot with what its climbs were like."""
    lat, lon = plane.to_degrees(spot.east_m, spot.north_m)
    east, north = (
        at + NEAR_M * np.array([x for x, y in _DISC])
        if axis == 0
        else at + NEAR_M * np.array([y for x, y in _DISC])
        for axis, at in enumerate((spot.east_m, spot.north_m))
    )
    area = math.pi * NEAR_M**2
    shares = spot.shares.tolist()
    return ThermalSpot(
        number=number,
        lat_deg=float(lat),
        lon_deg=float(lon),
        radius_m=spot.radius_m,
        grade=spot.grade,
        chance_count=spot.chance_count,
        climbs=spot.climbs,
        expected_climbs=float(traffic.expected_at(east, north).mean()) * area,
        flights=len(
            {
                one
                for vote, share in zip(votes, shares, strict=True)
                if share >= LEAST_SHARE
                for one in vote.flights
            }
        ),
        hours_flown=float(traffic.hours_at(east, north).mean()) * area,
        strength_mps=_quartiles([vote.climb.mean_climb_mps for vote in votes], shares),
        gain_m=_quartiles([vote.climb.gain_m for vote in votes], shares),
        hours=_hours([vote.climb.time_s for vote in votes], shares, zone),
    )


def _quartiles(values: Sequence[float | None], weights: Sequence[float]) -> Quartiles | None:
    """Weighed quartiles of the figures that are known; None where they weigh less than one climb."""
    known = sorted((value, weight) for value, weight in zip(values, weights, strict=True) if value is not None)
    total = sum(weight for _, weight in known)
    if total < 0.999:
        return None
    middle = np.cumsum([weight for _, weight in known]) - 0.5 * np.array([weight for _, weight in known])
    low, median, high = np.interp([0.25, 0.5, 0.75], middle / total, [value for value, _ in known])
    return Quartiles(float(low), float(median), float(high))


def _hours(times_s: Sequence[float], weights: Sequence[float], zone: tzinfo) -> tuple[HourCount, ...]:
    """Climbs by hour of the day, from the first hour with any to the last."""
    counts = [0.0] * HOURS_A_DAY
    for time_s, weight in zip(times_s, weights, strict=True):
        counts[datetime.fromtimestamp(time_s, tz=UTC).astimezone(zone).hour] += weight
    there = [hour for hour, count in enumerate(counts) if count >= 0.05]
    return tuple(HourCount(hour, counts[hour]) for hour in range(there[0], there[-1] + 1)) if there else ()


def _cells(traces: Traces, traffic: Traffic, plane: LocalPlane) -> tuple[float, tuple[ThermalCell, ...]]:
    """Squares with hours, climbs smeared by their traces, and climbs per hour; and the side of a square."""
    rows, columns = traffic.hours_per_m2.shape
    side = max(round(CELL_M / traffic.step_m), 1)
    hours = traffic.hours_per_m2 * traffic.step_m**2
    climbs = _smeared(traces, traffic)
    while True:
        up, across = rows // side * side, columns // side * side
        summed = [
            grid[:up, :across].reshape(up // side, side, across // side, side).sum(axis=(1, 3))
            for grid in (hours, climbs)
        ]
        flown = (summed[0] >= LEAST_CELL_HOURS) | (summed[1] >= 0.3)
        if np.count_nonzero(flown) <= MOST_CELLS_TOLD:
            break
        side *= 2
    row, column = np.nonzero(flown)
    cell_m = side * traffic.step_m
    east = traffic.west_m - 0.5 * traffic.step_m + (column + 0.5) * cell_m
    north = traffic.south_m - 0.5 * traffic.step_m + (row + 0.5) * cell_m
    lat, lon = plane.to_degrees(east, north)
    total = float(hours.sum())
    mean_rate = len(traces.east_m) / total if total > 0.0 else 0.0
    cell_hours, cell_climbs = summed[0][flown], summed[1][flown]
    rate = (cell_climbs + MEAN_RATE_HOURS * mean_rate) / (cell_hours + MEAN_RATE_HOURS)
    return cell_m, tuple(
        ThermalCell(*(float(value) for value in values))
        for values in zip(lat, lon, cell_hours, cell_climbs, rate, strict=True)
    )


def _smeared(traces: Traces, traffic: Traffic) -> Floats:
    """Climbs on the grid of the traffic, each spread as its trace is uncertain; sums to their number."""
    grid = np.zeros(traffic.hours_per_m2.shape)
    ee, nn, en = traces.precision()
    reach = 3.0 * np.maximum(traces.along_sd_m, traffic.step_m)
    for i in range(len(traces.east_m)):
        part = tuple(
            _within(float(at[i]) - low, float(reach[i]), traffic.step_m, count)
            for at, low, count in (
                (traces.north_m, traffic.south_m, len(grid)),
                (traces.east_m, traffic.west_m, len(grid[0])),
            )
        )
        north = (
            traffic.south_m + traffic.step_m * np.arange(part[0].start, part[0].stop)[:, None] - traces.north_m[i]
        )
        east = traffic.west_m + traffic.step_m * np.arange(part[1].start, part[1].stop) - traces.east_m[i]
        density = np.exp(-0.5 * (ee[i] * east**2 + nn[i] * north**2) - en[i] * (east * north))
        grid[part[0], part[1]] += density / max(float(density.sum()), 1e-12)
    return grid


def _within(at_m: float, reach_m: float, step_m: float, count: int) -> slice:
    """The rows or columns of a grid within reach of a place, one at least."""
    first = int(np.clip((at_m - reach_m) / step_m, 0, count - 1))
    return slice(first, int(np.clip((at_m + reach_m) / step_m + 2, first + 1, count)))
