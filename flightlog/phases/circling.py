"""Which runs of circles are climbs: one climb to one thermal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import lengths
from flightlog.motion.motion import Motion
from flightlog.phases.grid import FlightGrid
from flightlog.settings import Settings


@dataclass(frozen=True)
class CirclingRun:
    """Circles flown one after another: first step (inclusive) and last (exclusive) of the grid, full circles."""

    start: int
    stop: int
    turns: float


def circling_runs(motion: Motion, air: Air, grid: FlightGrid, settings: Settings) -> list[CirclingRun]:
    """Turnings of the flight, those in one thermal joined: through short breaks, re-centring, change of direction.

    Two turnings are one thermal when the break between them is short (twice as long where it rose on), and when
    the pilot did not move far through the air in it nor lose much height.
    """
    merged: list[CirclingRun] = []
    for turning in air.turnings:
        first, last = _whole_turn(motion, air, turning.start, turning.stop - 1, turning.direction, settings)
        start_s, end_s = float(motion.time_s[first]), float(motion.time_s[last])
        if end_s <= grid.time_s[0] or start_s >= grid.time_s[-1]:
            continue
        run = CirclingRun(grid.index(start_s), grid.index(end_s), turning.turned_deg / 360.0)
        if run.stop <= run.start:
            continue
        if merged and _same_thermal(grid, merged[-1], run, settings):
            old = merged[-1]
            merged[-1] = CirclingRun(old.start, max(run.stop, old.stop), old.turns + run.turns)
        else:
            merged.append(run)
    return merged


def _whole_turn(
    motion: Motion, air: Air, first: int, last: int, direction: str, settings: Settings
) -> tuple[int, int]:
    """First and last fix of a turning with its roll-in and roll-out: turning that way, if slowly, all along."""
    sign = 1.0 if direction == "right" else -1.0
    time = motion.time_s
    while (
        first > 0
        and sign * air.turn_rate_degps[first - 1] > settings.rolling_in_degps
        and time[first] - time[first - 1] <= settings.rolling_s
        and motion.piece[first - 1] == motion.piece[first]
    ):
        first -= 1
    while (
        last + 1 < time.size
        and sign * air.turn_rate_degps[last + 1] > settings.rolling_out_degps
        and motion.piece[last + 1] == motion.piece[last]
        and time[last + 1] - time[last] <= settings.rolling_s
    ):
        last += 1
    return first, last


def _same_thermal(grid: FlightGrid, before: CirclingRun, after: CirclingRun, settings: Settings) -> bool:
    """Whether two runs of circles lie in one thermal."""
    a, b = min(before.stop, grid.time_s.size - 1), after.start
    if b <= a:
        return True
    break_s = (b - a) * grid.step_s
    moved_m = lengths(grid.air_east_m[b] - grid.air_east_m[a], grid.air_north_m[b] - grid.air_north_m[a])
    lost_m = grid.altitude_m[a] - grid.altitude_m[b]
    rose = -lost_m >= settings.straight_climb_mps * break_s  # wide circles, or a gap of the recording
    return bool(
        break_s <= settings.thermal_break_s * (2.0 if rose else 1.0)
        and moved_m <= settings.thermal_break_m
        and lost_m <= settings.thermal_break_loss_m
    )


def thermal_climbs(grid: FlightGrid, run_list: list[CirclingRun], settings: Settings) -> list[tuple[int, int]]:
    """The parts of circling runs that gained height: (first step, last step exclusive).

    A long losing part before the bottom or after the top of a run is no climb (the pilot was still searching, or
    going down on purpose). What is left over may hold a second climb.
    """
    climbs: list[tuple[int, int]] = []
    todo = list(run_list)
    while todo:
        run = todo.pop()
        bottom, top = _greatest_gain(grid, run.start, run.stop)
        trim = grid.steps(settings.circling_trim_s)
        start = run.start if bottom - run.start < trim else bottom
        stop = run.stop if run.stop - 1 - top < trim else top + 1
        if not _is_climb(grid, _part(run, start, stop), settings):
            start, stop = bottom, top + 1  # a short climb with as short a loss before or after it
            if stop - start < trim or not _is_climb(grid, _part(run, start, stop), settings):
                continue
        climbs.append((start, stop))
        rest = [(run.start, start), (stop, run.stop)]
        todo += [_part(run, a, b) for a, b in rest if b - a > trim]
    return sorted(climbs)


def _part(run: CirclingRun, start: int, stop: int) -> CirclingRun:
    """Part of a run, with its share of the turns."""
    return CirclingRun(start, stop, run.turns * (stop - start) / (run.stop - run.start))


def _greatest_gain(grid: FlightGrid, start: int, stop: int) -> tuple[int, int]:
    """The two steps between which the height gained was greatest."""
    altitude = grid.altitude_m[start:stop]
    lowest = np.minimum.accumulate(altitude)
    top = int(np.argmax(altitude - lowest))
    return start + int(np.argmin(altitude[: top + 1])), start + top


def _is_climb(grid: FlightGrid, run: CirclingRun, settings: Settings) -> bool:
    """Whether a run of circles gained height that is worth the name: less than two must rise clearly (M 9)."""
    gain_m = float(grid.altitude_m[run.stop - 1] - grid.altitude_m[run.start])
    mean_mps = gain_m / max((run.stop - 1 - run.start) * grid.step_s, grid.step_s)
    few = run.turns < settings.climb_sure_turns
    least_mps = settings.straight_climb_mps if few else settings.climb_least_mps
    gains = gain_m >= settings.climb_least_gain_m and mean_mps >= least_mps
    return gains and run.turns >= settings.climb_least_turns
