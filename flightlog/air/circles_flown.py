"""The circles flown in a stretch of flight: which way, how many, how long, how wide, how steep."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from flightlog.air.air import Air
from flightlog.air.turns import bank_from_turn_deg
from flightlog.arrays import Floats
from flightlog.motion.motion import Motion, Turning

MIXED_SHARE = 0.2
"""A stretch went both ways when a fifth of the turning or more was the other way (own convention)."""
SPARSE_S = 2.5
"""From this time between fixes on, smoothing eats circles: their corners are counted on the recorded positions."""
SWING_S = 4.0
"""Turning either way is added up over so long at a time: noise of the positions swings faster."""
LEAST_TURNED_DEG = 270.0
"""Less is no circle."""
VAGUE_STEP_DEG = 110.0
"""Turned so far between two fixes on the average, circles may as well be faster ones the other way round."""
SLOWEST_MPS, LEAST_STRAIGHT, STRAIGHT_TO_CIRCLING = 5.0, 10, 1.15
"""No wing flies slower; fixes of straight flight that tell its airspeed; how much faster it is than in circles:
between as fast and a third faster, for pilots glide at trim or faster (trade knowledge, no source)."""
SENSE_MARGIN = 0.1
"""By so much, as a logarithm, the airspeed must speak for one of both ways round: wings differ so (M 6)."""


@dataclass(frozen=True)
class CirclesFlown:
    """The circles of one stretch; None where there are none.

    `period_s` is the mean time of a full turn while the wing circled, `radius_m` the way through the air of one
    such turn over 2 pi, `bank_deg` the bank of an even turn at that mean airspeed and turn rate. A bank that
    wanders is less than that in the mean: by half a degree where it wanders by 8 degrees about 25.
    """

    direction: str | None  # left | right | mixed
    turns: float
    period_s: float | None
    radius_m: float | None
    bank_deg: float | None
    airspeed_mps: float | None = None  # mean while circling
    turnings: int = 0  # runs of circles without a break
    aside_s: float = 0.0  # time of the stretch outside them


def circles_flown(motion: Motion, air: Air, start_s: float, end_s: float) -> CirclesFlown:
    """Direction, number, period, radius through the air and bank of the circles between two times.

    The circles are those of the turnings. The direction is that of all turning in the stretch, the bends and half
    circles between two turnings included: `mixed` where `MIXED_SHARE` of it or more was the other way.
    """
    turned_all_deg, seconds, way_m, known_s, turnings = 0.0, 0.0, 0.0, 0.0, 0
    first = int(motion.time_s.searchsorted(start_s - 0.01))
    stop = int(motion.time_s.searchsorted(end_s + 0.01))
    for turning in _turnings_between(air, first, stop):
        begin, end = max(turning.start, first), min(turning.stop, stop)
        inside_s = float(motion.time_s[end - 1] - motion.time_s[begin])
        turned_all_deg += turned_deg(motion, air, begin, end, turning.direction)
        seconds, turnings = seconds + inside_s, turnings + 1
        speed = air.airspeed_mps[begin:end]
        speed = speed[np.isfinite(speed)]
        if speed.size:
            way_m, known_s = way_m + float(speed.mean()) * inside_s, known_s + inside_s
    if turned_all_deg < LEAST_TURNED_DEG or seconds <= 0:
        return CirclesFlown(None, turned_all_deg / 360.0, None, None, None)
    left_deg, right_deg = turned_each_way_deg(motion, air, first, stop)
    share_right = right_deg / max(left_deg + right_deg, 1e-9)
    direction = "mixed" if MIXED_SHARE <= share_right <= 1.0 - MIXED_SHARE else "left"
    direction = "right" if share_right > 1.0 - MIXED_SHARE else direction
    period_s = 360.0 * seconds / turned_all_deg
    if known_s <= 0:
        told = _is_sense_told(motion, air, 360.0 / period_s, None)
        return CirclesFlown(
            direction if told else None, turned_all_deg / 360.0, period_s if told else None, None, None
        )
    airspeed_mps = way_m / known_s
    if not _is_sense_told(motion, air, 360.0 / period_s, airspeed_mps):
        return CirclesFlown(None, turned_all_deg / 360.0, None, None, None)
    return CirclesFlown(
        direction=direction,
        turns=turned_all_deg / 360.0,
        period_s=period_s,
        radius_m=airspeed_mps * period_s / (2.0 * math.pi),
        bank_deg=float(bank_from_turn_deg(airspeed_mps, 360.0 / period_s)),
        airspeed_mps=airspeed_mps,
        turnings=turnings,
        aside_s=max(end_s - start_s - seconds, 0.0),
    )


def _is_sense_told(motion: Motion, air: Air, turn_rate_degps: float, airspeed_mps: float | None) -> bool:
    """Whether circles turned so fast are what they look like, and not faster ones the other way round.

    A turn of an angle between two fixes and one of 360 degrees less it leave the same chord, which the one draws
    from an airspeed in proportion to the angle. The one nearer to the airspeed of straight flight is right.
    """
    step_deg = turn_rate_degps * motion.interval_s
    if motion.interval_s <= SPARSE_S or step_deg <= VAGUE_STEP_DEG:
        return True
    straight = air.airspeed_mps[(air.circling == 0) & (air.airspeed_mps > SLOWEST_MPS)]
    if airspeed_mps is None or straight.size < LEAST_STRAIGHT:
        return False
    usual = float(np.median(straight)) / STRAIGHT_TO_CIRCLING
    other = airspeed_mps * max(360.0 - step_deg, 1.0) / step_deg
    return abs(math.log(other / usual)) > abs(math.log(airspeed_mps / usual)) + SENSE_MARGIN


def turned_each_way_deg(motion: Motion, air: Air, first: int, stop: int) -> tuple[float, float]:
    """How far the wing turned to the left and to the right between two fixes, degrees, both positive.

    A pilot who circled the same way before and after a gap of the recording is taken to have circled on in it.
    """
    if stop - first < 3:
        return 0.0, 0.0
    inner = slice(first + 1, stop - 1)
    sign = air.circling[inner].astype(np.float64)
    steps = _between_bounds(_all_steps_deg(motion, air)[first : stop - 2], sign)
    steps = np.where(np.isfinite(steps), steps, 0.0)
    if motion.piece[first] != motion.piece[stop - 1]:
        steps = _with_circles_in_gaps(motion, steps, sign, first, stop)
    heading = np.concatenate([[0.0], np.cumsum(steps)])
    time = motion.time_s[first : stop - 1]
    at = np.interp(np.append(np.arange(time[0], time[-1], SWING_S), time[-1]), time, heading)
    swings = at[1:] - at[:-1]
    return float(-swings[swings < 0.0].sum()), float(swings[swings > 0.0].sum())


def _with_circles_in_gaps(motion: Motion, steps_deg: Floats, sign: Floats, first: int, stop: int) -> Floats:
    """The turns at the fixes between two, those of circling beside a gap as fast as usual in this circling."""
    seconds = 0.5 * (motion.time_s[first + 2 : stop] - motion.time_s[first : stop - 2])
    gap = np.diff(motion.piece[first:stop]) != 0
    beside = gap[1:] | gap[:-1]
    circling = ~beside & (sign != 0.0)
    if not circling.any():
        return steps_deg
    usual = float((sign * steps_deg)[circling].sum() / seconds[circling].sum())
    return np.where(beside & (sign != 0.0), sign * usual * seconds, steps_deg)


def turned_deg(motion: Motion, air: Air, first: int, stop: int, direction: str) -> float:
    """How far the wing turned between two fixes of a turning, degrees, the way it turned counted positive.

    Added up from fix to fix: the angle between the ways flown through the air before and after each fix, taken
    between 60 degrees the other way and 300 degrees this way. So circles are counted right down to a period of 1.3
    times the time between fixes, where adding up smoothed turn rates counts far too many.
    """
    sign = 1.0 if direction == "right" else -1.0
    steps = _all_steps_deg(motion, air)[first : max(stop - 2, first)]
    steps = steps[np.isfinite(steps)]
    if steps.size == 0:
        return 0.0
    turned = sign * float(_between_bounds(steps, sign).sum())
    return turned * ((stop - first - 1) / steps.size)  # the two half steps at the ends turn as well


def _between_bounds(steps_deg: Floats, sign: Floats | float) -> Floats:
    """Turns brought between 60 degrees against and 300 degrees with the turning (`sign`; 0: 180 either way)."""
    low = 120.0 * sign - 180.0
    return np.asarray(steps_deg - 360.0 * np.floor((steps_deg - low) / 360.0))


@lru_cache(maxsize=1)  # climbs share most of their fixes with the turnings in them
def _all_steps_deg(motion: Motion, air: Air) -> Floats:
    """Change of direction through the air at each fix but the first and last, but for multiples of 360 degrees."""
    half_s = 0.5 * (motion.time_s[1:] - motion.time_s[:-1])
    sparse = motion.interval_s > SPARSE_S
    east, north = (motion.measured_east_m, motion.measured_north_m) if sparse else (motion.east_m, motion.north_m)
    way_east = east[1:] - east[:-1] - _carried_m(air.wind_east_mps, half_s)
    way_north = north[1:] - north[:-1] - _carried_m(air.wind_north_mps, half_s)
    direction = np.degrees(np.arctan2(way_east, way_north))
    return np.asarray(direction[1:] - direction[:-1])


def _carried_m(wind_mps: Floats, half_s: Floats) -> Floats:
    """How far the air carried the wing from fix to fix by one component of the wind; 0 where it is not known."""
    wind = np.where(np.isfinite(wind_mps), wind_mps, 0.0)
    return np.asarray((wind[1:] + wind[:-1]) * half_s)


def _turnings_between(air: Air, first: int, stop: int) -> list[Turning]:
    """Turnings with three fixes or more in [first, stop); turnings are in order of time and do not overlap."""
    begin = bisect_right(air.turnings, first, key=lambda turning: turning.stop)
    end = bisect_left(air.turnings, stop, key=lambda turning: turning.start)
    return [one for one in air.turnings[begin:end] if min(one.stop, stop) - max(one.start, first) >= 3]
