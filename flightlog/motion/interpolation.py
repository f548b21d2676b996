"""The smoothed motion at any moment, not just at the fixes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats, Ints
from flightlog.motion.motion import Motion


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
        inside = np.clip(time_s, known_s[0], known_s[-1])
        last = max(len(known_s) - 2, 0)
        self.before = np.minimum(np.searchsorted(known_s, inside, side="right") - 1, last)
        self.after = np.minimum(self.before + 1, len(known_s) - 1)
        step = known_s[self.after] - known_s[self.before]
        self.share = np.divide(inside - known_s[self.before], step, out=np.zeros_like(inside), where=step > 0.0)

    def at(self, values: Floats) -> Floats:
        """The column at these moments."""
        start = values[self.before]
        return np.asarray(start + self.share * (values[self.after] - start))


def motion_at(motion: Motion, time_s: npt.ArrayLike) -> MotionSamples:
    """The smoothed motion at these times, (k,), UTC seconds as in the track.

    Positions and velocities come from the quintic, heights from the cubic, that joins the states at the fixes on
    either side: exactly what the smoother holds most probable in between. NaN inside gaps and outside the log.
    """
    wanted = np.atleast_1d(np.asarray(time_s, dtype=np.float64))
    before = np.clip(np.searchsorted(motion.time_s, wanted, side="right") - 1, 0, len(motion.time_s) - 2)
    share = (wanted - motion.time_s[before]) / (motion.time_s[before + 1] - motion.time_s[before])
    at_fix = (share == 0.0) | (share == 1.0)
    nearest = before + (share == 1.0)
    columns = [getattr(motion, name)[nearest] for name in _COLUMNS]
    between = np.flatnonzero(~at_fix)  # often none: most logs have a fix at every second asked for
    if between.size:
        for column, values in zip(columns, _between(motion, before[between], share[between]), strict=True):
            column[between] = values
    return MotionSamples(wanted, *columns)


_COLUMNS = ("east_m", "north_m", "altitude_m", "velocity_east_mps", "velocity_north_mps", "climb_mps")


def _between(motion: Motion, before: Ints, share: Floats) -> tuple[Floats, ...]:
    """The columns at these shares of the steps from the fixes `before` to the next; NaN in gaps and outside."""
    after = before + 1
    step = motion.time_s[after] - motion.time_s[before]
    known = (share >= 0.0) & (share <= 1.0) & (motion.piece[after] == motion.piece[before])
    step = np.where(known, step, np.nan)
    place, velocity = _level(motion, before, after, step, share)
    altitude, climb = _cubic(motion.altitude_m, motion.climb_mps, before, after, step, share)
    return place[0], place[1], altitude, velocity[0], velocity[1], climb


def altitudes_at(motion: Motion, time_s: Floats) -> Floats:
    """The smoothed altitudes at these times, any shape, as `motion_at` has them; NaN outside the log.

    Inside gaps they are those of the cubic that joins both sides: ask `piece` where that matters.
    """
    before = np.clip(np.searchsorted(motion.time_s, time_s, side="right") - 1, 0, len(motion.time_s) - 2)
    step = motion.time_s[before + 1] - motion.time_s[before]
    share = (time_s - motion.time_s[before]) / step
    altitude, _ = _cubic(motion.altitude_m, motion.climb_mps, before, before + 1, step, share)
    return np.where((share >= 0.0) & (share <= 1.0), altitude, np.nan)


def _level(motion: Motion, before: Ints, after: Ints, step: Floats, share: Floats) -> tuple[Floats, Floats]:
    """Places on the plane and true velocities between the fixes, east and north, (2, k) each."""
    near, before, after = _touched(before, after)
    east_m, north_m = motion.east_m[near], motion.north_m[near]
    turn = np.radians(motion.plane.convergence_at_deg(east_m, north_m))
    cosine, sine = np.cos(turn), np.sin(turn)
    scale = motion.plane.scale(east_m)
    rate, second = (
        np.stack([(east * cosine - north * sine) * scale, (north * cosine + east * sine) * scale])
        for east, north in (
            (motion.velocity_east_mps[near], motion.velocity_north_mps[near]),
            (motion.acceleration_east_mps2[near], motion.acceleration_north_mps2[near]),
        )
    )
    place, (east_v, north_v) = _quintic(np.stack([east_m, north_m]), rate, second, before, after, step, share)
    cosine, sine, scale = cosine[before], sine[before], scale[before]
    return place, np.stack(
        [(east_v * cosine + north_v * sine) / scale, (north_v * cosine - east_v * sine) / scale]
    )


def _touched(before: Ints, after: Ints) -> tuple[slice | Ints, Ints, Ints]:
    """The fixes that some moments lie between, and where among them those before and after each moment are.

    A stretch of the log for many moments close together; each by itself for a few spread over a long time.
    """
    first, stop = int(before[0]), int(after[0]) + 1
    if len(before) > 1:
        first, stop = int(before.min()), int(after.max()) + 1
    count = len(before)
    if stop - first > 2 * count:
        return np.concatenate([before, after]), np.arange(count), np.arange(count, 2 * count)
    return slice(first, stop), before - first, after - first


def _quintic(
    value: Floats, rate: Floats, second: Floats, before: Ints, after: Ints, step: Floats, share: Floats
) -> tuple[Floats, Floats]:
    """Values and rates (2, k) of the quintics with these values, rates and second rates at both ends of the steps.

    The columns (2, n) are given at all fixes.
    """
    square = step * step
    start, rate0, second0 = value[:, before], rate[:, before] * step, second[:, before] * square
    gap = value[:, after] - start - rate0 - 0.5 * second0
    rate_gap = rate[:, after] * step - rate0 - second0
    second_gap = second[:, after] * square - second0
    third = 10 * gap - 4 * rate_gap + 0.5 * second_gap
    fourth = -15 * gap + 7 * rate_gap - second_gap
    fifth = 6 * gap - 3 * rate_gap + 0.5 * second_gap
    u = share
    at = start + u * (rate0 + u * (0.5 * second0 + u * (third + u * (fourth + u * fifth))))
    slope = rate0 + u * (second0 + u * (3 * third + u * (4 * fourth + u * 5 * fifth)))
    return at, slope / step


def _cubic(
    value: Floats, rate: Floats, before: Ints, after: Ints, step: Floats, share: Floats
) -> tuple[Floats, Floats]:
    """Value and rate of the cubic with these values and rates at both ends of the step."""
    start, rate0 = value[before], rate[before] * step
    gap = value[after] - start - rate0
    rate_gap = rate[after] * step - rate0
    second, third = 3 * gap - rate_gap, rate_gap - 2 * gap
    u = share
    return start + u * (rate0 + u * (second + u * third)), (rate0 + u * (2 * second + u * 3 * third)) / step
