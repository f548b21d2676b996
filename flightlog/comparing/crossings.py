"""Which cylinders a pilot reached, in order, and when: by the rules of cross-country tasks.

A cylinder is reached by a fix inside the band of its tolerance; the moment counts on its true boundary, between
two fixes, on the ellipsoid. Of the starts the last one counts that leads farthest, of every other cylinder the
first crossing after the one before it (FAI/CIVL GAP, annex to Sporting Code Section 7, edition 2017).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from flightlog.arrays import Bools, Floats, Ints
from flightlog.tasks.geometry import centre_plane_m, line_bearing_deg
from flightlog.tasks.task import Task, Tolerance

POSITION_SD_M = 2.5
"""Of a recorded position: the slow part of GNSS noise, and the rounding of the file (M 1)."""
SLOWEST_CROSSING_MPS = 2.0
"""Slower than this across a boundary, the moment of crossing says little; its error is bounded here."""
MOST_STARTS = 1000
"""Start crossings looked at, the last ones: circling on the boundary gives one a circle."""


@dataclass(frozen=True)
class Reached:
    """A cylinder reached: which, when (UTC seconds), how sure, and the first fix after that moment."""

    cylinder: int
    time_s: float
    time_sd_s: float
    in_band: bool
    next_fix: int
    step_s: float  # between the fixes on either side


@dataclass(frozen=True)
class Progress:
    """How far a pilot came: the cylinders reached in order, and the fixes (first, stop) of the flight that counts.

    `early_s` is how long before the first gate the last crossing of the start was, where none was in time.
    """

    reached: tuple[Reached, ...]
    gate_s: float | None
    first: int
    stop: int
    early_s: float | None = None


@dataclass(frozen=True, eq=False)
class Fixes:
    """The n fixes of a log that count: strictly rising times, and the flights among them as (first, stop)."""

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    flights: tuple[tuple[int, int], ...]


def follow(task: Task, tolerance: Tolerance, fixes: Fixes) -> Progress:
    """How far the pilot came; nothing counts after the deadline, nor after the flight in which the start was."""
    boundaries = {k: Boundary(task, k, tolerance, fixes) for k in range(task.start, len(task.cylinders))}
    opens, deadline = task.start_opens_s, task.deadline_s or math.inf
    best: Progress | None = None
    early_s = None
    for start in reversed(_starts(boundaries[task.start], fixes)[-MOST_STARTS:]):
        if start.time_s > deadline:
            continue
        if opens is not None and start.time_s < task.gates_s[0]:
            early_s = task.gates_s[0] - start.time_s if early_s is None else early_s
            continue
        first, stop = next(span for span in fixes.flights if span[0] < start.next_fix < span[1])
        reached = _chain(task, boundaries, start, stop, deadline)
        if best is None or len(reached) > len(best.reached):
            best = Progress(reached, _gate_s(task, start.time_s), first, stop)
        if len(reached) == len(task.cylinders) - task.start:
            break
    if best is not None:
        return best
    stop = fixes.flights[-1][1] if fixes.flights else 0
    return Progress((), None, fixes.flights[0][0] if fixes.flights else 0, stop, early_s)


def _gate_s(task: Task, start_s: float) -> float | None:
    """The last start gate opened before a crossing of the start, in a race."""
    if task.kind != "race" or not task.gates_s:
        return None
    return task.gates_s[bisect_right(task.gates_s, start_s) - 1]


def _starts(boundary: Boundary, fixes: Fixes) -> list[Reached]:
    """Every crossing of the start in its direction, in flight, in order of time."""
    inside = boundary.away_m <= boundary.radius_m
    leaves = boundary.is_exit
    crossed = inside[:-1] & ~inside[1:] if leaves else ~inside[:-1] & inside[1:]
    found = []
    for fix in np.flatnonzero(crossed) + 1:
        if any(first < fix < stop for first, stop in fixes.flights):
            found.append(boundary.reached(int(fix), in_band=False))
    return found


def _chain(
    task: Task, boundaries: dict[int, Boundary], start: Reached, stop: int, deadline_s: float
) -> tuple[Reached, ...]:
    """The start and all cylinders reached after it, in order."""
    found = [start]
    for k in range(task.start + 1, len(task.cylinders)):
        after = boundaries[k].first_after(found[-1], stop)
        if after is None or after.time_s > deadline_s:
            break
        found.append(after)
    return tuple(found)


class Boundary:
    """One cylinder and a log: where the fixes lie, and what crossings there are."""

    def __init__(self, task: Task, number: int, tolerance: Tolerance, fixes: Fixes) -> None:
        cylinder = task.cylinders[number]
        self.number, self.radius_m = number, cylinder.radius_m
        self.is_exit, self.is_line = cylinder.direction == "exit", cylinder.is_line
        self._time_s = fixes.time_s
        east, north = centre_plane_m(cylinder, fixes.lat_deg, fixes.lon_deg)
        if self.is_line:  # turned: north is the way on which the line is crossed
            course = math.radians(line_bearing_deg(cylinder, task.cylinders))
            along = east * math.sin(course) + north * math.cos(course)
            east, north = east * math.cos(course) - north * math.sin(course), along
        self.east_m, self.north_m = east, north
        self.away_m: Floats = np.hypot(east, north)
        self._inner_m, self._outer_m = tolerance.inner_m(self.radius_m), tolerance.outer_m(self.radius_m)

    @cached_property
    def true_fixes(self) -> Ints:
        """Fixes that have reached it on or beyond its true boundary."""
        return self._fixes(self.radius_m, self.radius_m)

    @cached_property
    def band_fixes(self) -> Ints:
        """Fixes that have reached it, its tolerance included."""
        return self._fixes(self._inner_m, self._outer_m)

    @cached_property
    def _out_of_band(self) -> Ints:
        """Fixes that have not."""
        out = np.ones(self._time_s.size, dtype=bool)
        out[self.band_fixes] = False
        return np.flatnonzero(out)

    def _fixes(self, inner_m: float, outer_m: float) -> Ints:
        """Fixes outside (of an exit) or inside (of any other) that radius; of a line, beyond it."""
        if self.is_line:
            beyond = (self.north_m >= 0.0) & (self.away_m <= outer_m)
            beyond[1:] |= self._crosses_line(outer_m)
            return np.flatnonzero(beyond)
        return np.flatnonzero(self.away_m >= inner_m if self.is_exit else self.away_m <= outer_m)

    def _crosses_line(self, half_m: float) -> Bools:
        """Whether the way from each fix to the next crosses the line forwards, so far from its middle at most."""
        before, after = self.north_m[:-1], self.north_m[1:]
        forward = (before < 0.0) & (after >= 0.0)
        share = np.where(forward, -before / np.where(forward, after - before, 1.0), 0.0)
        across = self.east_m[:-1] + share * (self.east_m[1:] - self.east_m[:-1])
        return np.asarray(forward & (np.abs(across) <= half_m))

    def first_after(self, last: Reached, stop: int) -> Reached | None:
        """The first moment at or after another at which it is reached, before fix `stop`."""
        at = int(np.searchsorted(self.band_fixes, last.next_fix))
        if at == self.band_fixes.size or self.band_fixes[at] >= stop:
            return None
        band = int(self.band_fixes[at])
        gone = int(np.searchsorted(self._out_of_band, band))
        spell_end = int(self._out_of_band[gone]) if gone < self._out_of_band.size else self._time_s.size
        at = int(np.searchsorted(self.true_fixes, band))
        is_true = at < self.true_fixes.size and self.true_fixes[at] < min(spell_end, stop)
        fix = int(self.true_fixes[at]) if is_true else band
        found = self.reached(fix, in_band=not is_true)
        was_there = fix == last.next_fix and fix > 0 and self._holds(fix - 1, is_true=is_true)
        if found.time_s >= last.time_s and not was_there:
            return found
        return Reached(self.number, last.time_s, last.time_sd_s, not is_true, last.next_fix, last.step_s)

    def _holds(self, fix: int, *, is_true: bool) -> bool:
        """Whether that fix has reached it."""
        fixes = self.true_fixes if is_true else self.band_fixes
        at = int(np.searchsorted(fixes, fix))
        return at < fixes.size and int(fixes[at]) == fix

    def reached(self, fix: int, *, in_band: bool) -> Reached:
        """The crossing that this fix is the first after; with `in_band` the fix itself."""
        share, step_s = 1.0, 0.0
        across_mps = SLOWEST_CROSSING_MPS
        if fix > 0:
            step_s = float(self._time_s[fix] - self._time_s[fix - 1])
            share = 1.0 if in_band else self._share(fix)
            depth = self.north_m if self.is_line else self.away_m
            across_mps = max(abs(float(depth[fix] - depth[fix - 1])) / step_s, SLOWEST_CROSSING_MPS)
        time_s = float(self._time_s[fix]) - (1.0 - share) * step_s
        sd_s = math.hypot(POSITION_SD_M / across_mps, min(0.012 * step_s**2, step_s / 8.0))
        next_fix = fix + 1 if share >= 1.0 else fix
        return Reached(self.number, time_s, sd_s, in_band, next_fix, step_s)

    def _share(self, fix: int) -> float:
        """Which share of the way from the fix before to this one lies before the boundary."""
        x, y = float(self.east_m[fix - 1]), float(self.north_m[fix - 1])
        dx, dy = float(self.east_m[fix]) - x, float(self.north_m[fix]) - y
        if self.is_line and y < 0.0 <= y + dy:
            return -y / dy
        a, b, c = dx * dx + dy * dy, x * dx + y * dy, x * x + y * y - self.radius_m**2
        root = b * b - a * c
        if a == 0.0 or root < 0.0:
            return 1.0
        was_inside = c <= 0.0
        share = (-b + math.sqrt(root)) / a if was_inside else (-b - math.sqrt(root)) / a
        return min(max(share, 0.0), 1.0)


def flights_of(spans: Sequence[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """The flights that hold two fixes at least."""
    return tuple((first, stop) for first, stop in spans if stop - first >= 2)
