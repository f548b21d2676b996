"""Where climbs were met, against where the flying was: what chance alone would make of a season.

Thermals that come from anywhere are met on the ways flown. A chance map therefore throws each climb onto the way
of its own day, as often as there was flying, and traces it down by its own drift: days keep their ways, their wind
and their number of climbs.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints
from flightlog.season.traces import Traces
from flightlog.season.traffic import TRAFFIC_WIDTH_M, Traffic

THROWS = 6
"""Times that climbs which fall together with another of their day are thrown again."""
MOST_OF_A_DAY = 300
"""Climbs of one day that are kept apart, each from each."""


@dataclass(frozen=True, eq=False)
class Meetings:
    """n climbs as they were met, and the ways of their days.

    `moved_east_m`, `moved_north_m` (n,): from where a climb was met to its trace. `first`, `last` (n,): the points
    of its day among the k points of the ways. `weight_before` (k + 1,): climbs expected at the points before each.
    `pairs`: those of one day.
    """

    background: Floats  # (n,) climbs expected per square metre where each was met
    moved_east_m: Floats
    moved_north_m: Floats
    first: Ints
    last: Ints
    way_east_m: Floats  # (k,)
    way_north_m: Floats  # (k,)
    weight_before: Floats
    pairs: tuple[Ints, Ints]
    traffic: Traffic

    def drawn(self, traces: Traces, chance: np.random.Generator) -> tuple[Traces, Floats]:
        """As many climbs met by chance, traced down as those are, and the background where each was met.

        Those of one day stand apart as the climbs do that speak for spots.
        """
        east, north = self._thrown(chance)
        for _ in range(THROWS):
            near = traces.placed(east + self.moved_east_m, north + self.moved_north_m).are_near(*self.pairs)
            again = np.unique(self.pairs[0][near])
            if again.size == 0:
                break
            fresh = self._thrown(chance)
            east[again], north[again] = fresh[0][again], fresh[1][again]
        placed = traces.placed(east + self.moved_east_m, north + self.moved_north_m)
        return placed, self.traffic.expected_at(east, north)

    def _thrown(self, chance: np.random.Generator) -> tuple[Floats, Floats]:
        """A place of the day's way for each climb."""
        low, high = self.weight_before[self.first], self.weight_before[self.last]
        thrown = np.searchsorted(self.weight_before, chance.uniform(low, high), side="right") - 1
        at = np.clip(thrown, self.first, self.last - 1)
        blur = chance.normal(0.0, TRAFFIC_WIDTH_M, (2, len(at)))
        return self.way_east_m[at] + blur[0], self.way_north_m[at] + blur[1]


def _pairs(day: Ints) -> tuple[Ints, Ints]:
    """All pairs of climbs of one day, by numbers of climbs: the later and the earlier."""
    order = np.argsort(day, kind="stable")
    later: list[Ints] = []
    earlier: list[Ints] = []
    for own in np.split(order, np.flatnonzero(np.diff(day[order])) + 1):
        one, other = np.tril_indices(min(len(own), MOST_OF_A_DAY), -1)
        later.append(own[one])
        earlier.append(own[other])
    return np.concatenate(later), np.concatenate(earlier)


def meetings_of(
    met: tuple[Floats, Floats], moved: tuple[Floats, Floats], day: Ints, way: tuple[Floats, Floats, Floats, Ints],
    traffic: Traffic,
) -> Meetings:  # fmt: skip
    """Climbs met at places (n,) on days, and the ways as east, north, hours and day, in order of days.

    A day without a way has its climbs thrown about where they were met.
    """
    east, north, hours, way_day = way
    without = ~np.isin(day, way_day)
    east, north = np.concatenate([east, met[0][without]]), np.concatenate([north, met[1][without]])
    hours, way_day = np.concatenate([hours, np.ones(int(without.sum()))]), np.concatenate([way_day, day[without]])
    order = np.argsort(way_day, kind="stable")
    east, north, hours, way_day = east[order], north[order], hours[order], way_day[order]
    rate = traffic.expected_at(east, north) / np.maximum(traffic.hours_at(east, north), 1e-12)
    return Meetings(
        background=traffic.expected_at(*met),
        moved_east_m=moved[0],
        moved_north_m=moved[1],
        first=np.searchsorted(way_day, day, side="left"),
        last=np.searchsorted(way_day, day, side="right"),
        way_east_m=east,
        way_north_m=north,
        weight_before=np.concatenate([[0.0], np.cumsum(np.maximum(hours * rate, 1e-12))]),
        pairs=_pairs(day),
        traffic=traffic,
    )
