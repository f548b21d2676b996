"""Stretches taken for flights that were rides: roads and ropes have speeds and slopes, and the day has one wind.

On a smooth road a car without stops looks like a wing for some minutes. The longer flights of the log tell the
wind and the wing's airspeed, and with both known few drives pass for flights: a wing keeps its speed through the
air, wheels do not; and no road is steeper than its grade, while a wing in lift or sink is.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Bools, Floats, lengths, middle, quantile, zero_where_unknown
from flightlog.motion.interpolation import MotionSamples, motion_at
from flightlog.motion.motion import Motion, Spell
from flightlog.settings import Settings

ENDS_S = 6.0
"""Of each end: speeding up and slowing down are the same on wings, wheels and feet."""
GRADE_S = 15.0
"""Stretch of road whose slope is looked at: longer than heights wander, shorter than a hill is long."""
GNSS_WANDER_M = 2.7
"""Change of satellite heights over that time, one standard deviation: they wander by 4.6 m within 80 s (M 1)."""
SILENT_SHARE = 0.2
"""Of a way that only led uphill: with more of it unrecorded, it may have led down."""
WIND_SD_MPS, AIRSPEED_SD_MPS = 2.5, 1.5
"""How far the wind and the airspeed of another flight of the day may differ from those of the flight judged."""
INDEPENDENT_SHARE = 0.2
"""Speeds a few seconds apart tell the same: about one value in five is independent."""
ROBUST_MPS = 1.5
FITS = 8
PACE_S, PACE_FIXES = 4.0, 1.5
"""Time over which speeding up and braking are looked at: no longer than a car brakes, but so many times the
interval between fixes, for a turn between two fixes is not seen."""
STRAIGHT_COURSE = math.cos(math.radians(10.0))
"""A wing that turns through the air turns its course over the ground by more than this, in any wind."""
LEAST_PACE_MPS = 2.0
"""Slower over the ground, the course says little."""
LEAST_PACES = 10
PACE_QUANTILE = 0.9
WIND_MISS_SHARE = 0.5
"""Weight of the wind's change beside the spread of airspeed: the wind alone may have turned."""


@dataclass(frozen=True, eq=False)
class _Way:
    """The shape of a stretch."""

    wandering: float  # way by the farthest distance from its start
    grade: Floats  # (n,) height gained or lost by way, over 15 s
    sure_grade: Floats  # (n,) the same of what is more than satellite heights feign
    net_grade: float  # height gained from end to end by way
    mean_speed_mps: float


@dataclass(frozen=True)
class _Usual:
    """Wind (east, north) and airspeed of the longer flights of a log, m/s."""

    east_mps: float
    north_mps: float
    airspeed_mps: float


def without_rides(motion: Motion, air: Air, stretches: list[Spell], settings: Settings) -> list[Spell]:
    """The stretches in the air without those that were ridden on wheels.

    Parameters
    ----------
    motion, air
        Of the whole log.
    stretches : list of Spell
        In the air, in order of time.
    settings : Settings
        Those whose names begin with `ride_`.

    Returns
    -------
    list of Spell
        Four kinds of rides are left out. Uphill: from stand to stand `ride_uphill_m` and more, never down again by
        `ride_dip_m`, and not to and fro as soaring is (`soaring_wandering`); every wing comes down to land. Up on
        a rope: straight from end to end (`ride_straight`), and on the whole as steep as nothing climbs that is
        not pulled (`ride_rope_grade`). On rails or a main road: hardly steeper than level all the way, and
        faster than `ride_fast_mps`. On other roads: in less than
        `longest_drive_as_flight_s`, nowhere steeper than a road (`ride_grade` over 15 s), and either slower
        through the air than the longer flights by more than any wing can (`ride_slow_share`), or with speeds that
        miss those of a wing like the longer flights' by `ride_misfit_mps`: the root mean square error of the
        airspeed at the best wind near theirs, and half of how far that wind is from theirs, together. Where the
        way stays in one place, as soaring does (`ride_wandering`), the speed must also change on a straight
        course as only engines and brakes change it (`ride_pace_mps2`, passed in a tenth of that time), or miss by
        `ride_sure_misfit_mps`. Along a straight course the wind, known or not, changes no wing's speed over the
        ground: what changes it are gusts and the pilot's hands, and both are gentle.

    Notes
    -----
    Weak: a steady drive of a minute or two down an even road, or round and round at one speed; a short flight in
    one place in a wind that has changed by 5 m/s since the others; and any but the first three kinds beside the
    only flight of a log where that is the shorter.
    """
    return [one for one in stretches if not _is_ride(motion, air, one, stretches, settings)]


def _is_ride(motion: Motion, air: Air, one: Spell, stretches: list[Spell], settings: Settings) -> bool:
    """Whether wheels or a rope carried the pilot on this stretch."""
    seconds = one.end_s - one.start_s
    whole_seconds = np.arange(
        math.ceil(one.start_s + ENDS_S), one.end_s - ENDS_S, 1.0
    )  # most logs have fixes there
    samples = motion_at(motion, whole_seconds)
    known = np.isfinite(samples.velocity_east_mps) & np.isfinite(samples.altitude_m)
    if np.count_nonzero(known) < GRADE_S + ENDS_S:
        return False
    way = _way_of(samples, GNSS_WANDER_M if motion.altitude_source == "gnss" else 0.0)
    if _hangs_on_a_rope(way, settings) or _only_uphill(motion, one, samples, way, settings):
        return True
    if np.mean(way.sure_grade > settings.ride_grade) > settings.ride_steep_share:
        return False
    if way.mean_speed_mps > settings.ride_fast_mps and np.mean(way.grade) < settings.ride_level_grade:
        return True
    usual = _usual(motion, air, [other for other in stretches if other.end_s - other.start_s > seconds])
    if usual is None or seconds >= settings.longest_drive_as_flight_s:
        return False
    misfit_mps, most_airspeed_mps = _as_a_wing(
        samples.velocity_east_mps[known], samples.velocity_north_mps[known], usual
    )
    if most_airspeed_mps < settings.ride_slow_share * usual.airspeed_mps:
        return True
    if misfit_mps < settings.ride_misfit_mps or misfit_mps >= settings.ride_sure_misfit_mps:
        return misfit_mps >= settings.ride_misfit_mps
    soars = way.wandering > settings.ride_wandering
    return not soars or pace_changes_mps2(samples, motion.interval_s) >= settings.ride_pace_mps2


def _only_uphill(motion: Motion, one: Spell, samples: MotionSamples, way: _Way, settings: Settings) -> bool:
    """Up from stand to stand, however steep, without ever coming down as a wing does at the latest to land."""
    fixes_s = motion.time_s[slice(*np.searchsorted(motion.time_s, [one.start_s - ENDS_S, one.end_s + ENDS_S]))]
    silences_s = np.diff(fixes_s)
    silent_s = float(silences_s[silences_s > settings.longest_bridge_s].sum())
    recorded = fixes_s[0] < one.start_s and fixes_s[-1] > one.end_s
    if not recorded or silent_s > SILENT_SHARE * (one.end_s - one.start_s):
        return False  # where the recorder was silent, the way down may be missing
    altitude = samples.altitude_m[np.isfinite(samples.altitude_m)]
    feigned_m = settings.gnss_altitude_wander_m if motion.altitude_source == "gnss" else 0.0
    dip_m = float((np.maximum.accumulate(altitude) - altitude).max())
    return bool(
        altitude[-1] - altitude[0] >= settings.ride_uphill_m + feigned_m
        and dip_m <= settings.ride_dip_m + feigned_m
        and way.wandering <= settings.soaring_wandering
    )


def _hangs_on_a_rope(way: _Way, settings: Settings) -> bool:
    """Straight up from end to end."""
    return way.wandering < settings.ride_straight and way.net_grade > settings.ride_rope_grade


def _way_of(samples: MotionSamples, feigned_m: float) -> _Way:
    """The shape of a way from its seconds; where the recorder was silent, nothing is added.

    Heights err by `feigned_m` over `GRADE_S`.
    """
    speed = zero_where_unknown(lengths(samples.velocity_east_mps, samples.velocity_north_mps))
    way = np.concatenate([[0.0], np.cumsum(speed)])[:-1]
    away = lengths(samples.east_m - samples.east_m[0], samples.north_m - samples.north_m[0])
    lag = round(GRADE_S)
    rise = np.abs(samples.altitude_m[lag:] - samples.altitude_m[:-lag])
    known = np.isfinite(rise)
    rise, run = rise[known], np.maximum(way[lag:] - way[:-lag], GRADE_S)[known]
    ends = samples.altitude_m[np.isfinite(samples.altitude_m)][[0, -1]]
    return _Way(
        float(way[-1]) / max(float(zero_where_unknown(away).max()), 1.0),
        rise / run,
        np.maximum(rise - feigned_m, 0.0) / run,
        float(ends[1] - ends[0]) / max(float(way[-1]), 1.0),
        float(way[-1]) / max(len(way), 1),
    )


def pace_changes_mps2(samples: MotionSamples, interval_s: float) -> float:
    """How briskly the speed over the ground changes while the course stays, m/s2: passed in a tenth of the time.

    By pairs of seconds some `PACE_S` apart whose courses, and that halfway, are the same; by fixes `interval_s`
    apart. 0 where there are too few.
    """
    lag = round(max(PACE_S, PACE_FIXES * interval_s))
    half = lag // 2
    east, north = samples.velocity_east_mps, samples.velocity_north_mps
    speed = lengths(east, north)
    before, between, after = slice(None, -lag), slice(half, half - lag), slice(lag, None)
    fast = np.minimum(np.minimum(speed[before], speed[between]), speed[after]) > LEAST_PACE_MPS

    def same_course(one: slice, other: slice) -> Bools:
        dot = east[one] * east[other] + north[one] * north[other]
        return np.asarray(dot > STRAIGHT_COURSE * speed[one] * speed[other])

    straight = fast & same_course(before, after) & same_course(before, between)
    changes = np.abs(speed[after] - speed[before])[straight]
    return quantile(changes, PACE_QUANTILE) / lag if len(changes) >= LEAST_PACES else 0.0


def _usual(motion: Motion, air: Air, flights: list[Spell]) -> _Usual | None:
    """Mean wind and middle airspeed of these flights; None where the log does not tell them."""
    inside = np.zeros(len(motion.time_s), dtype=bool)
    for flight in flights:
        inside[slice(*np.searchsorted(motion.time_s, [flight.start_s, flight.end_s]))] = True
    inside &= np.isfinite(air.wind_east_mps) & np.isfinite(air.airspeed_mps)
    if not inside.any():
        return None
    return _Usual(
        float(air.wind_east_mps[inside].mean()),
        float(air.wind_north_mps[inside].mean()),
        middle(air.airspeed_mps[inside]),
    )


def _as_a_wing(east: Floats, north: Floats, usual: _Usual) -> tuple[float, float]:
    """How ill velocities over the ground (n,) fit a wing of about this airspeed and wind, m/s.

    And the airspeed that fits best, with two standard deviations: on one heading it could be any.
    """
    prior = np.array([usual.east_mps, usual.north_mps, usual.airspeed_mps])
    inverse = np.diag([WIND_SD_MPS**-2, WIND_SD_MPS**-2, AIRSPEED_SD_MPS**-2])
    state = prior.copy()
    for _ in range(FITS):
        off_east, off_north = east - state[0], north - state[1]
        speed = lengths(off_east, off_north) + 1e-9
        miss = speed - state[2]
        weight = INDEPENDENT_SHARE / np.maximum(1.0, np.abs(miss) / ROBUST_MPS)
        slopes = np.stack([-off_east / speed, -off_north / speed, -np.ones_like(speed)])
        normal = (slopes * weight) @ slopes.T + inverse
        step = np.linalg.solve(normal, -(slopes * weight) @ miss - inverse @ (state - prior))
        state += step * min(1.0, 3.0 / max(float(np.abs(step).max()), 1e-9))
    spread = float(np.sqrt(np.mean((lengths(east - state[0], north - state[1]) - state[2]) ** 2)))
    misfit = math.hypot(spread, WIND_MISS_SHARE * math.hypot(*(state[:2] - prior[:2])))
    return misfit, float(state[2]) + 2.0 * math.sqrt(np.linalg.inv(normal)[2, 2])
