"""Thermals that several pilots used: climbs at one place, at heights they share, not long after each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats
from flightlog.comparing.pilots import ClimbPlace, PilotRecord
from flightlog.comparing.results import SharedThermal, ThermalUse
from flightlog.earth.geodesy import LocalPlane

LONGEST_APART_S = 600.0
"""Between the end of one climb and the start of the next: a thermal lives for ten to twenty minutes (trade)."""
FARTHEST_APART_M = 250.0
"""Between the middles of circles at one height: cores are 80-150 m in radius, and circles 30 m off them (M 5)."""
HEIGHT_STEP_M = 25.0


@dataclass(frozen=True)
class _Use:
    """A climb of one pilot."""

    pilot: str
    number: int  # of the pilot
    place: ClimbPlace


@dataclass(frozen=True, eq=False)
class _Levels:
    """k climbs at heights common to all: when and where each first passed them; NaN where it did not, (k, n)."""

    start_s: Floats  # (k,)
    end_s: Floats
    time_s: Floats
    east_m: Floats
    north_m: Floats
    wind_east_mps: Floats  # (k,)
    wind_north_mps: Floats


def shared_thermals(records: Sequence[PilotRecord], plane: LocalPlane) -> tuple[SharedThermal, ...]:
    """Every thermal in which two pilots or more climbed, in order of time.

    Climbs are joined that lie within `FARTHEST_APART_M` of each other at heights both passed (the median over
    them), as they stood there or moved with the wind between the two moments, and within `LONGEST_APART_S` of each
    other in time.
    """
    uses = [_Use(record.name, k, place) for k, record in enumerate(records) for place in record.climbs]
    uses.sort(key=lambda use: (use.place.time_s[0], use.number))
    if not uses:
        return ()
    levels = _levels([use.place for use in uses])
    pilots = np.array([use.number for use in uses])
    group = np.arange(len(uses))
    for later in range(1, len(uses)):
        for same in set(group[:later][_is_same(levels, later) & (pilots[:later] != pilots[later])].tolist()):
            group[group == group[later]] = same
    found: list[SharedThermal] = []
    for one in dict.fromkeys(group.tolist()):
        members = [uses[k] for k in np.flatnonzero(group == one)]
        if len({use.number for use in members}) > 1:
            found.append(_thermal(len(found) + 1, members, plane))
    return tuple(found)


def _levels(places: Sequence[ClimbPlace]) -> _Levels:
    """The climbs at common heights, every 25 m."""
    low = min(float(place.altitude_m.min()) for place in places)
    high = max(float(place.altitude_m.max()) for place in places)
    heights = np.arange(low, high + HEIGHT_STEP_M, HEIGHT_STEP_M)
    table = np.full((3, len(places), heights.size), np.nan)
    for row, place in enumerate(places):
        risen = np.maximum.accumulate(place.altitude_m) + 1e-6 * np.arange(place.altitude_m.size)
        passed = np.flatnonzero(
            (heights >= risen[0] - HEIGHT_STEP_M / 2) & (heights <= risen[-1] + HEIGHT_STEP_M / 2)
        )
        for column, values in enumerate((place.time_s, place.east_m, place.north_m)):
            table[column, row, passed] = np.interp(heights[passed], risen, values)
    return _Levels(
        np.array([place.time_s[0] for place in places]),
        np.array([place.time_s[-1] for place in places]),
        table[0],
        table[1],
        table[2],
        np.array([place.wind_east_mps for place in places]),
        np.array([place.wind_north_mps for place in places]),
    )


def _is_same(levels: _Levels, later: int) -> Bools:
    """Which of the climbs before this one, in order of their starts, were in its thermal."""
    found = np.zeros(later, dtype=bool)
    near = np.flatnonzero(levels.start_s[later] - levels.end_s[:later] <= LONGEST_APART_S)
    if near.size == 0:
        return found
    passed = np.flatnonzero(np.isfinite(levels.time_s[later]))
    at = np.ix_(near, passed)
    east, north = (
        levels.east_m[later, passed] - levels.east_m[at],
        levels.north_m[later, passed] - levels.north_m[at],
    )
    seconds = levels.time_s[later, passed] - levels.time_s[at]
    wind_east = 0.5 * (levels.wind_east_mps[near] + levels.wind_east_mps[later])
    wind_north = 0.5 * (levels.wind_north_mps[near] + levels.wind_north_mps[later])
    stood = np.hypot(east, north)
    moved = np.hypot(east - wind_east[:, None] * seconds, north - wind_north[:, None] * seconds)
    common = np.isfinite(stood).sum(axis=1)
    for away in (stood, moved):  # nearer at more than half of the heights: the median is nearer
        found[near] |= 2 * (away < FARTHEST_APART_M).sum(axis=1) > common
    return found


def _thermal(number: int, members: Sequence[_Use], plane: LocalPlane) -> SharedThermal:
    """A thermal and all its uses, those of the first use telling where it stood."""
    first = members[0].place
    lat, lon = plane.to_degrees(float(np.mean(first.east_m)), float(np.mean(first.north_m)))
    return SharedThermal(
        number,
        float(lat),
        float(lon),
        tuple(
            ThermalUse(
                pilot=use.pilot,
                start=use.place.climb.start,
                end=use.place.climb.end,
                base_altitude_m=use.place.climb.base_altitude_m,
                top_altitude_m=use.place.climb.top_altitude_m,
                gain_m=use.place.climb.gain_m,
                mean_climb_mps=use.place.climb.mean_climb_mps,
                best_30s_climb_mps=use.place.climb.best_30s_climb_mps,
                turn_direction=use.place.climb.turn_direction,
                circle_radius_m=use.place.climb.circle_radius_m,
                bank_deg=use.place.climb.bank_deg,
            )
            for use in members
        ),
    )
