"""Straight flight outside climbs: going somewhere (glide), rising straight on, or looking for lift (search)."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.phases.grid import FlightGrid, runs
from flightlog.settings import Settings


def straight_climb_mask(grid: FlightGrid, free: Bools, settings: Settings) -> Bools:
    """Steps of straight flight that rose at `straight_climb_mps` or more for `straight_climb_s` at least.

    Dips of up to 3 s are forgiven: a gust is no end of a climb.
    """
    rising = (grid.climb_mps > settings.straight_climb_mps) & free
    for start, stop in runs(~rising & free):
        inside = start > 0 and stop < rising.size and rising[start - 1] and rising[stop]
        if inside and (stop - start) * grid.step_s <= 3.0:
            rising[start:stop] = True
    found = np.zeros_like(rising)
    for start, stop in runs(rising):
        if (stop - start) * grid.step_s >= settings.straight_climb_s:
            found[start:stop] = True
    return found


def search_mask(grid: FlightGrid, free: Bools, circling: Bools, settings: Settings) -> Bools:
    """Steps in which the pilot manoeuvred without getting on: neither climbing nor going anywhere.

    Free time is cut into legs at every clear turn (in the air frame; a turn is a short leg itself). A leg of
    `glide_leg_s` or more goes somewhere. Shorter legs one after another are a search when the straight way between
    their ends is less than `search_straightness` of the way flown, over `search_window_s` at most; circles that
    gained nothing are search.
    """
    turning = _turning(grid, free, settings)
    cut = np.ones(free.size + 1, dtype=bool)  # before a step begins another leg, free or not
    cut[1:-1] = (turning[1:] != turning[:-1]) | (circling[1:] != circling[:-1]) | (free[1:] != free[:-1])
    bounds = np.flatnonzero(cut)
    starts, stops = bounds[:-1], bounds[1:]
    own = free[starts]
    starts, stops = _no_longer(starts[own], stops[own], grid.steps(settings.search_window_s))
    found = np.zeros(free.size, dtype=bool)
    if starts.size:
        found[free] = np.repeat(_searching(grid, starts, stops, (circling, turning), settings), stops - starts)
    return found


def _no_longer(starts: Ints, stops: Ints, longest: int) -> tuple[Ints, Ints]:
    """The legs, longer ones in equal parts of `longest` steps at most.

    >>> _no_longer(np.array([0, 5]), np.array([5, 14]), 5)
    (array([0, 5, 9]), array([ 5,  9, 14]))
    """
    parts = np.maximum(-(-(stops - starts) // longest), 1)
    leg = np.repeat(np.arange(starts.size), parts)
    part = np.arange(leg.size) - np.repeat(np.cumsum(parts) - parts, parts)
    length = stops[leg] - starts[leg]
    return starts[leg] + length * part // parts[leg], starts[leg] + length * (part + 1) // parts[leg]


def _turning(grid: FlightGrid, free: Bools, settings: Settings) -> Bools:
    """Steps at which the direction through the air turns by `leg_turn_deg` within 12 s, all of them free."""
    half = grid.steps(6.0)
    turning = np.zeros(free.size, dtype=bool)
    taken = np.concatenate([[0], np.cumsum(~free)])
    middle = np.flatnonzero(taken[2 * half + 1 :] == taken[: -2 * half - 1]) + half
    if middle.size == 0:
        return turning
    x, y = grid.air_east_m, grid.air_north_m
    before = np.stack([x[middle] - x[middle - half], y[middle] - y[middle - half]])
    after = np.stack([x[middle + half] - x[middle], y[middle + half] - y[middle]])
    across, along = before[0] * after[1] - before[1] * after[0], np.sum(before * after, axis=0)
    turning[middle] = np.degrees(np.abs(np.arctan2(across, along))) > settings.leg_turn_deg
    return turning


def _searching(
    grid: FlightGrid, starts: Ints, stops: Ints, turns: tuple[Bools, Bools], settings: Settings
) -> Bools:
    """Which of the legs, one at least, belong to a search; `turns`: steps in circles, steps in bends."""
    circling, bends = turns[0][starts], turns[1][starts]
    goes = (stops - starts) * grid.step_s >= settings.glide_leg_s
    goes &= _through_air(grid, starts, stops) >= settings.search_straightness
    short = ~goes & ~circling
    joins = stops[:-1] == starts[1:]  # the next leg follows at once
    parted = np.ones(starts.size + 1, dtype=bool)
    parted[1:-1] = ~joins | (short[1:] != short[:-1])
    edges = np.flatnonzero(parted)
    counts = edges[1:] - edges[:-1]
    earliest, latest = np.repeat(starts[edges[:-1]], counts), np.repeat(stops[edges[1:] - 1], counts)
    half = grid.steps(settings.search_window_s / 2)
    middle = (starts + stops) // 2
    a = np.minimum(np.maximum(middle - half, earliest), starts)
    b = np.maximum(np.minimum(middle + half, latest), stops)
    legs = np.flatnonzero(short)
    search = circling
    search[legs] = _straightness(grid, a[legs], b[legs]) < settings.search_straightness
    onto = short[:-1] & bends[:-1] & joins & goes[1:]
    search[:-1][onto] = False  # the turn onto the course of a glide is part of it
    return search


def _straightness(grid: FlightGrid, a: Ints, b: Ints) -> Floats:
    """Net way over way flown between steps a and b, through the air or over the ground, whichever is less.

    Turns to and fro in wind look straighter than they are in one frame or the other: who works upwind over one
    field, through the air; who drifts while circling, over the ground.
    """
    return np.minimum(_through_air(grid, a, b), _net_share(grid.east_m, grid.north_m, grid.ground_way_m, a, b))


def _through_air(grid: FlightGrid, a: Ints, b: Ints) -> Floats:
    """Net way over way flown through the air: a straight leg is one, even where the wind holds it in place."""
    return _net_share(grid.air_east_m, grid.air_north_m, grid.air_way_m, a, b)


def _net_share(x: Floats, y: Floats, way_m: Floats, a: Ints, b: Ints) -> Floats:
    """Net way over length of way between steps a and b; 1 where there was none."""
    b = np.minimum(b, x.size - 1)
    flown = way_m[b] - way_m[a]
    net = lengths(x[b] - x[a], y[b] - y[a])
    return np.divide(net, flown, out=np.ones(flown.shape), where=flown > 0)
