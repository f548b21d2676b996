"""Thermals that several pilots used: climbs at one place, at heights they share, not long after each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats
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


def shared_thermals(records: Sequence[PilotRecord], plane: LocalPlane) -> tuple[SharedThermal, ...]:
    """Every thermal in which two pilots or more climbed, in order of time.

    Climbs are joined that lie within `FARTHEST_APART_M` of each other at a height both passed, as they stood there
    or moved with the wind between the two moments, and within `LONGEST_APART_S` of each other in time.
    """
    uses = [_Use(record.name, k, place) for k, record in enumerate(records) for place in record.climbs]
    uses.sort(key=lambda use: (use.place.time_s[0], use.number))
    group = list(range(len(uses)))
    for later, use in enumerate(uses):
        for earlier in range(later - 1, -1, -1):
            other = uses[earlier]
            if use.number != other.number and _is_same(other.place, use.place):
                old, new = group[later], group[earlier]
                group = [new if one == old else one for one in group]
    found: list[SharedThermal] = []
    for one in dict.fromkeys(group):
        members = [use for use, of in zip(uses, group, strict=True) if of == one]
        if len({use.number for use in members}) > 1:
            found.append(_thermal(len(found) + 1, members, plane))
    return tuple(found)


def _is_same(earlier: ClimbPlace, later: ClimbPlace) -> bool:
    """Whether two climbs were in one thermal."""
    if (
        later.time_s[0] - earlier.time_s[-1] > LONGEST_APART_S
        or earlier.time_s[0] - later.time_s[-1] > LONGEST_APART_S
    ):
        return False
    low = max(earlier.altitude_m.min(), later.altitude_m.min())
    high = min(earlier.altitude_m.max(), later.altitude_m.max())
    if high < low:
        return False
    levels = np.linspace(low, high, max(int((high - low) / HEIGHT_STEP_M), 2))
    t1, x1, y1 = _at(earlier, levels)
    t2, x2, y2 = _at(later, levels)
    stood = np.hypot(x2 - x1, y2 - y1)
    east, north = (
        0.5 * (earlier.wind_east_mps + later.wind_east_mps),
        0.5 * (earlier.wind_north_mps + later.wind_north_mps),
    )
    moved = np.hypot(x2 - x1 - east * (t2 - t1), y2 - y1 - north * (t2 - t1))
    return bool(min(np.median(stood), np.median(moved)) < FARTHEST_APART_M)


def _at(place: ClimbPlace, levels: Floats) -> tuple[Floats, Floats, Floats]:
    """Time and place at which a climb first passed each level."""
    risen = np.maximum.accumulate(place.altitude_m) + 1e-6 * np.arange(place.altitude_m.size)
    return (
        np.interp(levels, risen, place.time_s),
        np.interp(levels, risen, place.east_m),
        np.interp(levels, risen, place.north_m),
    )


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
