"""What the pilot was doing: the phases of one flight, end to end."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Bools, Ints, zero_where_unknown
from flightlog.motion.motion import Motion
from flightlog.phases.circling import circling_runs, thermal_climbs
from flightlog.phases.grid import FlightGrid, flight_grid, runs
from flightlog.phases.landing import landing_approach_start_s
from flightlog.phases.legs import search_mask, straight_climb_mask
from flightlog.phases.phases import FlightSpan, Phase
from flightlog.phases.ridges import ridge_mask
from flightlog.settings import Settings

GLIDE, SEARCH, APPROACH, STRAIGHT, RIDGE, CIRCLING = range(6)
KINDS: tuple[tuple[str, str | None], ...] = (
    ("glide", None),
    ("search", None),
    ("approach", None),
    ("climb", "straight"),
    ("climb", "ridge"),
    ("climb", "circling"),
)


class PassTimes(Protocol):
    """A pass at a landing place: what the labelling needs of it."""

    @property
    def start_s(self) -> float:
        """UTC seconds."""

    @property
    def end_s(self) -> float:
        """UTC seconds: touchdown, or the moment it was broken off."""

    @property
    def outcome(self) -> str:
        """`landed` or `go_around`."""

    @property
    def certainty(self) -> str:
        """`sure` or `possible`."""


def label_phases(
    motion: Motion, air: Air, span: FlightSpan, passes: Sequence[PassTimes], settings: Settings
) -> tuple[Phase, ...]:
    """Phases of the flight in order of time, end to end from the start of the run to touchdown.

    Circles that gain are a climb (one to a thermal); beats along a slope and straight flight that rises are climbs
    of their own mode; passes and the last descent are approach; the rest is glide where it goes somewhere and
    search where it does not (M 3, M 9). No phase in the air is shorter than `phase_least_s`, unless nothing else
    is beside it. Only times inside the flight are used; an empty flight gives no phase.
    """
    run = (Phase("launch_run", None, span.start_s, span.liftoff_s),) if span.liftoff_s > span.start_s else ()
    if not span.touchdown_s > span.liftoff_s:
        return run
    grid = flight_grid(motion, air, span.liftoff_s, span.touchdown_s)
    labels, thermal = _soaring_labels(motion, air, grid, settings)
    _mark_passes(grid, labels, passes)
    start_s = landing_approach_start_s(motion, air, span, settings)
    if start_s is not None:
        labels[_last_descent(grid, labels, start_s, settings) :] = APPROACH
    _drop_short(grid, labels, thermal, settings)
    return run + _phases(grid, labels, thermal, span.touchdown_s)


def _soaring_labels(motion: Motion, air: Air, grid: FlightGrid, settings: Settings) -> tuple[Ints, Ints]:
    """Label of every step, approaches aside, and the number of the thermal it belongs to (0: none)."""
    count = grid.time_s.size
    labels, thermal = np.full(count, GLIDE, dtype=np.int64), np.zeros(count, dtype=np.int64)
    circles = [
        run for run in circling_runs(motion, air, grid, settings) if run.turns >= settings.climb_least_turns
    ]
    turning = np.zeros(count, dtype=bool)
    for run in circles:
        turning[run.start : run.stop] = True
    for number, (start, stop) in enumerate(thermal_climbs(grid, circles, settings), start=1):
        labels[start:stop], thermal[start:stop] = CIRCLING, number
    labels[ridge_mask(grid, (labels == GLIDE) & ~turning, settings)] = RIDGE
    free = labels == GLIDE
    labels[search_mask(grid, free, turning & free, settings)] = SEARCH
    turn_rate_degps = grid.lines.at(np.abs(zero_where_unknown(air.turn_rate_degps[grid.near])))
    _join_rising(grid, labels, thermal, turn_rate_degps > settings.rolling_out_degps, settings)
    straight = free & ~turning & (labels != CIRCLING) & ~grid.silent
    rising = straight_climb_mask(grid, straight, settings)
    _drop_entries(grid, rising, labels, settings)
    labels[rising] = STRAIGHT
    return labels, thermal


def _join_rising(grid: FlightGrid, labels: Ints, thermal: Ints, turns: Bools, settings: Settings) -> None:
    """Turns to and fro that rise right before or after circles are part of that climb: the pilot centres.

    The climb then begins with the first, or ends with the last of these `turns`.
    """
    for start, stop in runs(labels == SEARCH):
        altitude = grid.altitude_m[start:stop]
        joins = []
        if start > 0 and labels[start - 1] == CIRCLING:
            joins.append((start, start + int(np.argmax(altitude)) + 1, start - 1))
        if stop < labels.size and labels[stop] == CIRCLING:
            joins.append((start + int(np.argmin(altitude)), stop, stop))
        for first, last, beside in joins:
            inside = first + np.flatnonzero(turns[first:last])
            if inside.size == 0:
                continue
            first, last = (first, int(inside[-1]) + 1) if beside < first else (int(inside[0]), last)
            duration_s = (last - first) * grid.step_s
            gain_m = float(grid.altitude_m[last - 1] - grid.altitude_m[first])
            if gain_m >= max(settings.climb_least_gain_m, settings.straight_climb_mps * duration_s):
                labels[first:last], thermal[first:last] = CIRCLING, thermal[beside]


def _drop_entries(grid: FlightGrid, rising: Bools, labels: Ints, settings: Settings) -> None:
    """Straight flight into or out of a thermal is part of the glide, not a climb of its own, when it is short."""
    for start, stop in runs(rising):
        touches = (start > 0 and labels[start - 1] == CIRCLING) or (
            stop < labels.size and labels[stop] == CIRCLING
        )
        if touches and (stop - start) * grid.step_s < settings.thermal_entry_s:
            rising[start:stop] = False


def _mark_passes(grid: FlightGrid, labels: Ints, passes: Sequence[PassTimes]) -> None:
    """Passes surely broken off are approach whatever was flown in them."""
    for one in passes:
        if one.outcome != "go_around" or one.certainty != "sure":
            continue
        if one.end_s > grid.time_s[0] and one.start_s < grid.time_s[-1]:
            labels[grid.index(one.start_s) : grid.index(one.end_s)] = APPROACH


def _last_descent(grid: FlightGrid, labels: Ints, start_s: float, settings: Settings) -> int:
    """Step from which all is approach: `start_s`, or the end of the last beat that the slope still carried.

    Over a slope heights wander less than what begins a new descent: soaring there, for `ridge_part_s` and more, is
    none. The last `approach_least_s` are approach in any case.
    """
    first = grid.index(start_s)
    soared = [
        stop
        for begin, stop in runs(labels[first:] == RIDGE)
        if (stop - begin) * grid.step_s >= settings.ridge_part_s
    ]
    latest = max(labels.size - 1 - grid.steps(settings.approach_least_s), first)
    return min(first + (soared[-1] if soared else 0), latest)


def _drop_short(grid: FlightGrid, labels: Ints, thermal: Ints, settings: Settings) -> None:
    """Give glides and searches too short for a row to a neighbour, never to a thermal, whose ends are sharp."""
    for kind in (SEARCH, GLIDE):
        for start, stop in runs(labels == kind):
            duration_s = (stop - start) * grid.step_s
            beside = [labels[i] for i in (start - 1, stop) if 0 <= i < labels.size]
            if beside == [SEARCH, SEARCH] and duration_s < settings.search_pause_s:
                labels[start:stop] = SEARCH
            if beside == [GLIDE, GLIDE] and duration_s < settings.search_least_s:
                labels[start:stop] = GLIDE
            lost_m = float(grid.altitude_m[start] - grid.altitude_m[stop - 1])
            held = duration_s < settings.search_least_s and lost_m < settings.ridge_end_loss_m
            if kind == SEARCH and RIDGE in beside and held:
                labels[start:stop] = RIDGE  # the turn at the end of a beat, before an approach or a circle
                continue
            if duration_s >= settings.phase_least_s:
                continue
            choice = [label for label in beside if label in (GLIDE, SEARCH, STRAIGHT, RIDGE)]
            if choice:
                labels[start:stop] = min(choice)
            elif beside == [CIRCLING, CIRCLING]:
                labels[start:stop] = SEARCH
    thermal[labels != CIRCLING] = 0


def _phases(grid: FlightGrid, labels: Ints, thermal: Ints, touchdown_s: float) -> tuple[Phase, ...]:
    """Unbroken runs of one label (and one thermal) as phases."""
    edges = np.flatnonzero((np.diff(labels) != 0) | (np.diff(thermal) != 0)) + 1
    starts = np.concatenate([[0], edges])
    times = [float(t) for t in grid.time_s[starts]] + [touchdown_s]
    rows = ((KINDS[labels[first]], times[i], times[i + 1]) for i, first in enumerate(starts))
    return tuple(Phase(kind, mode, start, end) for (kind, mode), start, end in rows if end > start)
