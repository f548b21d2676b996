"""The smoothed motion at any moment, not just at the fixes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Complexes, Floats, Ints
from flightlog.motion.motion import Motion


@dataclass(frozen=True)
class MotionMoment:
    """The smoothed motion at one moment; NaN inside gaps and outside the log."""

    time_s: float
    east_m: float  # of the plane of the Motion
    north_m: float
    altitude_m: float
    velocity_east_mps: float  # true east
    velocity_north_mps: float
    climb_mps: float


@dataclass(frozen=True, eq=False)
class MotionSamples:
    """The smoothed motion at k moments; NaN inside gaps and outside the log."""

    time_s: Floats  # (k,)
    east_m: Floats  # of the plane of the Motion
    north_m: Floats
    altitude_m: Floats
    velocity_east_mps: Floats  # true east
    velocity_north_mps: Floats
    climb_mps: Floats


def index_at(motion: Motion, time_s: float) -> int:
    """Index of the fix nearest in time; the first or last one outside the log."""
    after = int(np.searchsorted(motion.time_s, time_s))
    if after == 0:
        return 0
    if after == len(motion.time_s):
        return after - 1
    return after if motion.time_s[after] - time_s < time_s - motion.time_s[after - 1] else after - 1


class StraightLines:
    """Straight lines between known moments, for many columns at the same k moments: they are looked up once.

    As `np.interp`, with its constant ends, for columns (n,) known at `known_s` (n,), rising.

    >>> lines = StraightLines(np.array([1.0, 2.0, 9.0]), np.array([0.0, 2.0]))
    >>> lines.at(np.array([10.0, 20.0]))
    array([15., 20., 20.])
    """

    def __init__(self, time_s: Floats, known_s: Floats) -> None:
        place = np.interp(time_s, known_s, np.arange(len(known_s)))  # half the time of a search
        self.before = np.minimum(place.astype(np.int64), max(len(known_s) - 2, 0))
        self.after = np.minimum(self.before + 1, len(known_s) - 1)
        self.share = place - self.before

    def at(self, values: Floats) -> Floats:
        """The column at these moments."""
        start = values.take(self.before)
        return np.asarray(start + self.share * (values.take(self.after) - start))


def motion_at(motion: Motion, time_s: npt.ArrayLike) -> MotionSamples:
    """The smoothed motion at these times, (k,), UTC seconds as in the track.

    Positions and velocities come from the quintic, heights from the cubic, that joins the states at the fixes on
    either side: exactly what the smoother holds most probable in between. NaN inside gaps and outside the log.
    For several stretches of times ask `motion_at_each`, for one moment `moment_at`: a call takes as long as a
    hundred moments do.
    """
    wanted = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
    if 0 < len(wanted) <= _FEW:
        rows = [_at_one(motion, moment) for moment in wanted.tolist()]
        return MotionSamples(wanted, *(np.array(column) for column in zip(*rows, strict=True)))
    before = np.searchsorted(motion.time_s, wanted, side="right") - 1
    before = np.minimum(np.maximum(before, 0), len(motion.time_s) - 2)
    start_s = motion.time_s[before]
    share = (wanted - start_s) / (motion.time_s[before + 1] - start_s)
    at_end = share == 1.0
    between = np.flatnonzero((share != 0.0) & ~at_end)  # often none: most logs have a fix at every second
    if 0 < len(between) == len(wanted):
        return MotionSamples(wanted, *_between(motion, before, share))
    nearest = before + at_end
    columns = [getattr(motion, name)[nearest] for name in _COLUMNS]
    if between.size:
        for column, values in zip(columns, _between(motion, before[between], share[between]), strict=True):
            column[between] = values
    return MotionSamples(wanted, *columns)


def motion_at_each(motion: Motion, times: Sequence[Floats]) -> list[MotionSamples]:
    """The smoothed motion at each of several rows of times, in their order: `motion_at` of all of them at once."""
    if not times:
        return []
    at = motion_at(motion, np.concatenate(times))
    columns = (at.time_s, *(getattr(at, name) for name in _COLUMNS))
    stops = np.cumsum([len(row) for row in times]).tolist()
    return [
        MotionSamples(*(column[start:stop] for column in columns))
        for start, stop in zip([0, *stops[:-1]], stops, strict=True)
    ]


def moment_at(motion: Motion, time_s: float) -> MotionMoment:
    """The smoothed motion at one moment: what `motion_at` gives, as plain numbers, in a tenth of its time."""
    return MotionMoment(time_s, *_at_one(motion, float(time_s)))


_COLUMNS = ("east_m", "north_m", "altitude_m", "velocity_east_mps", "velocity_north_mps", "climb_mps")
_FEW = 3
"""So many moments are faster one by one."""
_Six = tuple[float, float, float, float, float, float]
_UNKNOWN: _Six = (math.nan,) * 6


def _at_one(motion: Motion, time_s: float) -> _Six:
    """The columns at one moment."""
    known_s = motion.time_s
    before = min(max(int(known_s.searchsorted(time_s, side="right")) - 1, 0), len(known_s) - 2)
    start_s = known_s.item(before)
    step = known_s.item(before + 1) - start_s
    share = (time_s - start_s) / step
    if share in (0.0, 1.0):
        return _fix_state(motion, before + int(share))
    if not 0.0 < share < 1.0 or motion.piece[before] != motion.piece[before + 1]:
        return _UNKNOWN
    here, there = _fix_state(motion, before), _fix_state(motion, before + 1)
    altitude, climb = _cubic(here[2], here[5], there[2], there[5], step, share)
    plane = motion.plane
    start, stop = plane.turned_and_stretched_at(*here[:2]), plane.turned_and_stretched_at(*there[:2])
    place, velocity = _quintic(
        complex(*here[:2]), complex(*here[3:5]) * start, _acceleration(motion, before) * start,
        complex(*there[:2]), complex(*there[3:5]) * stop, _acceleration(motion, before + 1) * stop, step, share,
    )  # fmt: skip
    velocity /= start
    return place.real, place.imag, altitude, velocity.real, velocity.imag, climb


def _fix_state(motion: Motion, fix: int) -> _Six:
    """The columns at a fix."""
    return (
        motion.east_m.item(fix),
        motion.north_m.item(fix),
        motion.altitude_m.item(fix),
        motion.velocity_east_mps.item(fix),
        motion.velocity_north_mps.item(fix),
        motion.climb_mps.item(fix),
    )


def _acceleration(motion: Motion, fix: int) -> complex:
    """East + i north of the true acceleration at a fix."""
    return complex(motion.acceleration_east_mps2.item(fix), motion.acceleration_north_mps2.item(fix))


def _between(motion: Motion, before: Ints, share: Floats) -> tuple[Floats, ...]:
    """The columns at these shares of the steps from the fixes `before` to the next; NaN in gaps and outside."""
    near, before, after = _touched(before)
    piece, time_s = motion.piece[near], motion.time_s[near]
    known = (share > 0.0) & (share < 1.0) & (piece[after] == piece[before])
    step = time_s[after] - time_s[before]
    place, velocity = _level(motion, near, before, after, step, share)
    heights, climbs = motion.altitude_m[near], motion.climb_mps[near]
    altitude, climb = _cubic(heights[before], climbs[before], heights[after], climbs[after], step, share)
    columns = place.real, place.imag, altitude, velocity.real, velocity.imag, climb
    if not known.all():
        for column in columns:
            column[~known] = np.nan
    return columns


def _level(
    motion: Motion, near: slice | Ints, before: Ints, after: Ints, step: Floats, share: Floats
) -> tuple[Complexes, Complexes]:
    """Places on the plane and true velocities between the fixes, east + i north, (k,) each.

    `before` and `after` are indices among the fixes `near`.
    """
    east, north = motion.east_m[near], motion.north_m[near]
    factor = motion.plane.turned_and_stretched(east, north)
    place = _vectors(east, north)
    rate = _vectors(motion.velocity_east_mps[near], motion.velocity_north_mps[near]) * factor
    second = _vectors(motion.acceleration_east_mps2[near], motion.acceleration_north_mps2[near]) * factor
    start, stop = ((place[side], rate[side], second[side]) for side in (before, after))
    between, velocity = _quintic(*start, *stop, step, share)
    return between, velocity / factor[before]


def _vectors(east: Floats, north: Floats) -> Complexes:
    """East + i north."""
    vectors = np.empty(east.shape, dtype=np.complex128)
    vectors.real, vectors.imag = east, north
    return vectors


def _touched(before: Ints) -> tuple[slice | Ints, Ints, Ints]:
    """The fixes that some moments lie between, and where among them those before and after each moment are.

    A stretch of the log for many moments close together; each by itself for a few spread over a long time.
    """
    count = len(before)
    first, stop = int(before.min()), int(before.max()) + 2
    if stop - first > 2 * count:
        return np.concatenate([before, before + 1]), np.arange(count), np.arange(count, 2 * count)
    before = before - first
    return slice(first, stop), before, before + 1


def altitudes_at(motion: Motion, time_s: Floats) -> Floats:
    """The smoothed altitudes at these times, any shape, as `motion_at` has them; NaN outside the log.

    Inside gaps they are those of the cubic that joins both sides: ask `piece` where that matters.
    """
    before = np.searchsorted(motion.time_s, time_s, side="right") - 1
    before = np.minimum(np.maximum(before, 0), len(motion.time_s) - 2)
    after = before + 1
    start_s, heights, climbs = motion.time_s[before], motion.altitude_m, motion.climb_mps
    step = motion.time_s[after] - start_s
    share = (time_s - start_s) / step
    altitude, _ = _cubic(heights[before], climbs[before], heights[after], climbs[after], step, share)
    return np.where((share >= 0.0) & (share <= 1.0), altitude, np.nan)


_Level = TypeVar("_Level", complex, Complexes)
_Height = TypeVar("_Height", float, Floats)


def _quintic(
    start: _Level, rate0: _Level, second0: _Level, stop: _Level, rate1: _Level, second1: _Level,
    step: Any, share: Any,
) -> tuple[_Level, _Level]:  # fmt: skip
    """Value and rate of the quintic with these values, rates and second rates at both ends of the step."""
    square = step * step
    rate0, half0 = rate0 * step, second0 * (0.5 * square)
    gap = stop - start - rate0 - half0
    rate_gap = rate1 * step - rate0 - 2 * half0
    half_gap = second1 * (0.5 * square) - half0
    third = 10 * gap - 4 * rate_gap + half_gap
    fourth = 7 * rate_gap - 15 * gap - 2 * half_gap
    fifth = 6 * gap - 3 * rate_gap + half_gap
    u = share
    at = start + u * (rate0 + u * (half0 + u * (third + u * (fourth + u * fifth))))
    slope = rate0 + u * (2 * half0 + u * (3 * third + u * (4 * fourth + u * (5 * fifth))))
    return at, slope / step


def _cubic(
    start: _Height, rate0: _Height, stop: _Height, rate1: _Height, step: _Height, share: _Height
) -> tuple[_Height, _Height]:
    """Value and rate of the cubic with these values and rates at both ends of the step."""
    rate0 = rate0 * step
    gap = stop - start - rate0
    rate_gap = rate1 * step - rate0
    second, third = 3 * gap - rate_gap, rate_gap - 2 * gap
    u = share
    return start + u * (rate0 + u * (second + u * third)), (rate0 + u * (2 * second + u * 3 * third)) / step
