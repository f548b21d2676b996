"""One flight at even steps of time, so that the rules of the phases speak of seconds and not of fixes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Bools, Floats, Ints, lengths, zero_where_unknown
from flightlog.motion.interpolation import StraightLines
from flightlog.motion.motion import Motion

LONGEST_GRID = 100_000
"""Most steps of one grid; a flight longer than this many seconds gets longer steps (bounds time and memory)."""


@dataclass(frozen=True, eq=False)
class FlightGrid:
    """A stretch of the motion at even steps: n times, ground frame and air frame side by side.

    `air_east_m` and `air_north_m` are positions in a frame that drifts with the wind (the way flown through the
    air, summed up from the first step); where the wind is not known it is taken as the nearest known one, or none.
    """

    time_s: Floats  # (n,) UTC seconds, n >= 2
    step_s: float
    east_m: Floats  # (n,) over the ground
    north_m: Floats
    altitude_m: Floats
    climb_mps: Floats
    air_east_m: Floats  # (n,) through the air
    air_north_m: Floats
    air_way_m: Floats  # length of the way flown through the air since the first step
    ground_way_m: Floats  # and of that over the ground
    silent: Bools  # in a gap of the recording: heights and places there are drawn straight across it
    near: slice  # the fixes of the motion between the first step and the last, and one to either side
    lines: StraightLines  # between those fixes, at the steps

    def steps(self, duration_s: float) -> int:
        """How many steps a duration holds, at least one."""
        return max(1, round(duration_s / self.step_s))

    def index(self, time_s: float) -> int:
        """The step nearest to a time, within the grid."""
        return min(max(round((time_s - self.time_s.item(0)) / self.step_s), 0), self.time_s.size - 1)


@lru_cache(maxsize=2)  # passes at each ground and the phases look at the same flight
def flight_grid(motion: Motion, air: Air, start_s: float, end_s: float, step_s: float = 1.0) -> FlightGrid:
    """The motion from start to end at even steps of `step_s` (longer for a flight beyond a day).

    Times outside the motion take its first or last values. Raises ValueError when `end_s` is not after `start_s`.
    """
    duration_s = end_s - start_s
    if not duration_s > 0:
        raise ValueError(f"end_s {end_s} must lie after start_s {start_s}")
    count = min(LONGEST_GRID, max(2, round(duration_s / step_s) + 1))
    step_s = duration_s / (count - 1)
    time_s = np.linspace(start_s, end_s, count)
    first, last = np.searchsorted(motion.time_s, [start_s, end_s])
    near = slice(max(int(first) - 1, 0), int(last) + 1)  # the fixes between, and one to either side
    lines = StraightLines(time_s, motion.time_s[near])
    east, north, wind_east, wind_north = (
        lines.at(values[near]) for values in (motion.east_m, motion.north_m, *_wind(air))
    )
    altitude, climb = (
        lines.at(zero_where_unknown(values[near])) for values in (motion.altitude_m, motion.climb_mps)
    )
    # from positions, not from velocities: across a gap of the recording they still tell how far the wing came
    air_east = east - east[0] - summed(wind_east) * step_s
    air_north = north - north[0] - summed(wind_north) * step_s
    ways = (way_m(air_east, air_north), way_m(east, north))
    silent = _silent(lines, motion.piece[near])
    return FlightGrid(
        time_s, step_s, east, north, altitude, climb, air_east, air_north, *ways, silent, near, lines
    )


def _silent(lines: StraightLines, piece: Ints) -> Bools:
    """Which times lie in a gap of the recording; at a fix, whether one lies before it."""
    if piece[0] == piece[-1]:
        return np.zeros(lines.share.shape, dtype=bool)
    after = np.maximum(lines.before + (lines.share > 0.0), 1)
    return np.asarray(piece[after - 1] != piece[after])


def way_m(east: Floats, north: Floats) -> Floats:
    """Length of a path since its first point, (n,) m.

    >>> way_m(np.array([0.0, 3.0, 3.0]), np.array([0.0, 4.0, 5.0]))
    array([0., 5., 6.])
    """
    return np.concatenate([[0.0], np.cumsum(lengths(np.diff(east), np.diff(north)))])


def summed(rate: Floats) -> Floats:
    """Integral of a rate from the first step, in steps, by the trapezium rule; starts at 0.

    >>> summed(np.array([1.0, 1.0, 3.0]))
    array([0., 1., 3.])
    """
    return np.concatenate([[0.0], np.cumsum(0.5 * (rate[1:] + rate[:-1]))])


def runs(mask: np.ndarray) -> list[tuple[int, int]]:
    """First (inclusive) and last (exclusive) step of every unbroken run of True.

    >>> runs(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    framed = np.zeros(len(mask) + 2, dtype=bool)
    framed[1:-1] = mask
    edges = np.flatnonzero(framed[1:] != framed[:-1]).tolist()
    return list(zip(edges[::2], edges[1::2], strict=True))


def largest(values: Floats, first: Ints, stop: Ints) -> Floats:
    """The largest value of each of k stretches [first, stop), none of them empty; stops may lie beyond the end.

    >>> largest(np.array([1.0, 3.0, 2.0, 0.0]), np.array([0, 2]), np.array([2, 9]))
    array([3., 2.])
    """
    ends = np.stack([first, np.minimum(stop, len(values))], axis=1)
    return np.asarray(np.maximum.reduceat(np.append(values, -np.inf), ends.ravel())[::2])


@lru_cache(maxsize=1)
def _wind(air: Air) -> tuple[Floats, Floats]:
    """Wind at all fixes without holes: between the nearest known ones, none where the log tells of none."""
    known = np.flatnonzero(np.isfinite(air.wind_east_mps) & np.isfinite(air.wind_north_mps))
    places = np.arange(air.wind_east_mps.size)
    if known.size == 0:
        return np.zeros(places.size), np.zeros(places.size)
    return (
        np.interp(places, known, air.wind_east_mps[known]),
        np.interp(places, known, air.wind_north_mps[known]),
    )
