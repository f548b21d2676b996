"""The approach to the landing: which pattern, how long a final, how fast and how steady."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.air.surface import headwind_estimate, wind_near_ground
from flightlog.arrays import Floats
from flightlog.estimates import Estimate, known
from flightlog.measures.overview import instant
from flightlog.measures.results import Approach
from flightlog.measures.unsteadiness import Unsteadiness, unsteady_in_words
from flightlog.motion.interpolation import moment_at
from flightlog.motion.motion import Motion
from flightlog.phases.grid import FlightGrid, flight_grid, summed
from flightlog.phases.grounds import Ground
from flightlog.phases.landing import landing_approach_start_s
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings

STEP_S = 0.5
COURSE_S = 8.0
"""The final course is the mean track of the last so many seconds before touchdown, the flare left out."""
FLARE_S = 2.0


@dataclass(frozen=True, eq=False)
class _Final:
    """The approach at even steps (n,), and where its final begins."""

    time_s: Floats
    height_m: Floats  # above the touchdown
    climb_mps: Floats
    ground_speed_mps: Floats
    heading_rad: Floats  # through the air, unwrapped
    course_rad: float
    start: int  # first step of the final
    length_m: float


def measure_approach(
    motion: Motion, air: Air, span: FlightSpan, grounds: tuple[Ground, ...], settings: Settings
) -> Approach | None:
    """The last descent to the landing; None where the log ends in the air.

    Parameters
    ----------
    motion, air
        Of the whole log.
    span : FlightSpan
        The flight.
    grounds : tuple of Ground
        From `find_grounds`: the one landed on may tell the final course to compare with.
    settings : Settings
        The thresholds whose names begin with `approach_`, `pattern_` and `unsteady_`.

    Returns
    -------
    Approach
        The final is the last stretch whose track stays within `pattern_final_deg` of the mean track of the last
        8 s. Speed spread and path deviation are those of the final; wind is that at the field, slowed as the
        ground does. `unsteady` holds one sentence for each way in which it was not steady, in SI, and
        `unsteady_ways` the same as figures; empty: it was.

    References
    ----------
    Flight Safety Foundation, ALAR Briefing Note 7.1 (stabilised approach: right path, small changes of heading,
    sink up to 1000 ft/min); the limits for foot-launched wings are this project's own, for want of published ones.
    """
    start_s = landing_approach_start_s(motion, air, span, settings)
    if start_s is not None and span.phases:  # where the slope still carried the wing, it had not begun
        start_s = max(start_s, span.phases[-1].start_s)
    if start_s is None or span.touchdown_s - start_s < 2.0:
        return None
    grid = flight_grid(motion, air, start_s, span.touchdown_s, STEP_S)
    final = _final(motion, grid, settings)
    on_final = slice(final.start, None)
    headwind = headwind_estimate(
        motion, air, span.touchdown_s - settings.launch_wind_from_s, span.touchdown_s, final.course_rad
    )
    seconds = max(final.time_s[-1] - final.time_s[final.start], STEP_S)
    wind_s = (span.touchdown_s - settings.launch_wind_from_s, span.touchdown_s)
    wind = wind_near_ground(motion, air, *wind_s)
    ways = _unsteady(final, on_final, headwind, _known_course(grounds, span), settings)
    low_turns = low_turns_deg(final.heading_rad, final.height_m, final.time_s, settings)
    return Approach(
        start=instant(start_s, motion),
        end=instant(span.touchdown_s, motion),
        pattern=_pattern(final, settings),
        final_length_m=final.length_m,
        final_sink_mps=known(float((final.height_m[final.start] - final.height_m[-1]) / seconds)),
        ground_speed_at_touchdown_mps=known(_touchdown_speed_mps(motion, span, settings)),
        headwind_mps=headwind,
        unsteady=tuple(unsteady_in_words(way) for way in ways),
        unsteady_ways=ways,
        note=None if headwind else "the wind at landing is not known",
        low_turns=len(low_turns),
        low_turn_deg=sum(low_turns),
        final_speed_spread_mps=_speed_spread_mps(final),
        final_path_deviation_m=_path_deviation_m(final),
        sink_at_touchdown_mps=_sink_at_touchdown_mps(motion, span, settings),
        touchdown_distance_m=_touchdown_distance_m(motion, span, grounds),
        wind_from_deg=None if wind is None else math.degrees(math.atan2(-wind[0], -wind[1])) % 360.0,
        wind_speed_mps=None if wind is None else math.hypot(wind[0], wind[1]),
        wind_se_mps=None if wind is None else wind[2],
    )


def low_turns_deg(heading_rad: Floats, height_m: Floats, time_s: Floats, settings: Settings) -> tuple[float, ...]:
    """Turns through the air of `low_turn_least_deg` and more below `low_turn_below_m`, flare left out, degrees.

    The last stretch below that height counts, heading (n,) unwrapped. A turn that began higher counts with
    what was turned below.
    """
    high = np.flatnonzero(height_m > settings.low_turn_below_m)
    low = np.arange(int(high[-1]) + 1 if len(high) else 0, len(height_m))
    low = low[time_s[low] <= time_s[-1] - FLARE_S]
    if len(low) < 3:
        return ()
    swings = heading_swings_deg(np.degrees(heading_rad[low]), settings.pattern_swing_deg)
    return tuple(abs(swing) for swing in swings if abs(swing) >= settings.low_turn_least_deg)


def _speed_spread_mps(final: _Final) -> float | None:
    """Standard deviation of the ground speed on the final, flare left out; None where it was too short."""
    speeds = final.ground_speed_mps[final.start :][: -round(FLARE_S / STEP_S)]
    return float(np.std(speeds)) if len(speeds) > 6 else None


def _path_deviation_m(final: _Final) -> float | None:
    """Root mean square height off the straight path from the start of the final to touchdown, m."""
    heights, speeds = final.height_m[final.start :], final.ground_speed_mps[final.start :]
    if len(heights) < 7 or not np.isfinite(heights).all():
        return None
    flown = summed(speeds)
    if flown[-1] <= 0:
        return None
    straight = heights[0] + (heights[-1] - heights[0]) * flown / flown[-1]
    return float(np.sqrt(np.mean((heights - straight) ** 2)))


def _sink_at_touchdown_mps(motion: Motion, span: FlightSpan, settings: Settings) -> float | None:
    """Sink of the last `FLARE_S` before the smoother blends the flight with standing; None where heights lack."""
    smear_s = settings.touchdown_smear_s + settings.touchdown_smear_intervals * motion.interval_s
    end = max(span.touchdown_s - smear_s, span.liftoff_s)
    if end - span.liftoff_s < FLARE_S:
        return None
    lost_m = moment_at(motion, end - FLARE_S).altitude_m - moment_at(motion, end).altitude_m
    return lost_m / FLARE_S if math.isfinite(lost_m) else None


def _touchdown_distance_m(motion: Motion, span: FlightSpan, grounds: tuple[Ground, ...]) -> float | None:
    """How far from the centre of the named place the pilot touched down; None away from any place."""
    here = [ground for ground in grounds if span.number in ground.landings and ground.name is not None]
    if not here:
        return None
    at = moment_at(motion, span.touchdown_s)
    if not math.isfinite(at.east_m):
        return None
    return min(math.hypot(at.east_m - ground.east_m, at.north_m - ground.north_m) for ground in here)


def _final(motion: Motion, grid: FlightGrid, settings: Settings) -> _Final:
    """The approach seen from the touchdown, with its final."""
    east = np.interp(grid.time_s, motion.time_s, motion.velocity_east_mps)
    north = np.interp(grid.time_s, motion.time_s, motion.velocity_north_mps)
    speed = np.hypot(east, north)
    end = grid.time_s[-1]
    before = (grid.time_s >= end - COURSE_S - FLARE_S) & (grid.time_s <= end - FLARE_S)
    before = before if before.any() else np.ones(before.shape, dtype=bool)
    course = math.atan2(float(east[before].sum()), float(north[before].sum()))
    track = np.arctan2(east, north)
    off = np.abs(np.angle(np.exp(1j * (track - course))))
    away = np.flatnonzero(
        (off > math.radians(settings.pattern_final_deg)) & (speed > 1.5) & (grid.time_s < end - FLARE_S)
    )
    start = min(int(away[-1]) + 1, len(off) - 2) if len(away) else 0
    air_east, air_north = np.gradient(grid.air_east_m, grid.step_s), np.gradient(grid.air_north_m, grid.step_s)
    length = float(summed(speed[start:])[-1] * grid.step_s)
    return _Final(
        grid.time_s, grid.altitude_m - grid.altitude_m[-1], grid.climb_mps, speed,
        np.unwrap(np.arctan2(air_east, air_north)), course, start, length,
    )  # fmt: skip


def _touchdown_speed_mps(motion: Motion, span: FlightSpan, settings: Settings) -> float:
    """Ground speed of the last moment before touchdown that the smoother does not blend with standing, m/s."""
    smear_s = settings.touchdown_smear_s + settings.touchdown_smear_intervals * motion.interval_s
    at = moment_at(motion, max(span.touchdown_s - smear_s, span.liftoff_s))
    if not math.isfinite(at.velocity_east_mps):
        at = moment_at(motion, span.touchdown_s)
    return math.hypot(at.velocity_east_mps, at.velocity_north_mps)


def _known_course(grounds: tuple[Ground, ...], span: FlightSpan) -> float | None:
    """The field's own final course, radians, where the places file gives it."""
    here = [g.heading_deg for g in grounds if span.number in g.landings and g.heading_deg is not None]
    return math.radians(here[0]) if here else None


def _pattern(final: _Final, settings: Settings) -> str:
    """Which pattern was flown in the last `pattern_look_s` below `pattern_height_m`, flare left out.

    By the geometry of the heading through the air, against that into the wind (its mean at the end):
    *figure of eight*: two or more turns of `pattern_turn_deg` and more to alternate sides, one after the other, on
    the base side: never downwind (`pattern_downwind_deg`) between them; *straight in*: no turn of
    `pattern_straight_deg` in the last `pattern_straight_s`; *circuit*: one turn of `pattern_circuit_deg` or more,
    to one side, from the downwind leg over base to the final, in the last `pattern_circuit_s`; *other*: anything
    else, as circling down to the final (a turn beyond `pattern_circle_deg`).

    Notes
    -----
    Weak where the pilot mixes them: an approach in S-turns to a circuit reads as a figure of eight.
    """
    end = final.time_s[-1]
    look = (final.height_m <= settings.pattern_height_m) & (final.time_s >= end - settings.pattern_look_s)
    look &= final.time_s <= end - FLARE_S
    if np.count_nonzero(look) < 3:
        return "other"
    heading = np.degrees(final.heading_rad[look])
    last = final.heading_rad[look][-round(COURSE_S / STEP_S) // 2 :]
    into_wind = math.degrees(math.atan2(np.sin(last).sum(), np.cos(last).sum()))
    off = np.abs((heading - into_wind + 180.0) % 360.0 - 180.0)
    downwind = np.flatnonzero(off > settings.pattern_downwind_deg)
    on_base = heading[downwind[-1] :] if len(downwind) else heading
    turns = [abs(swing) for swing in heading_swings_deg(on_base, settings.pattern_swing_deg)]
    if sum(settings.pattern_turn_deg <= turn <= settings.pattern_circle_deg for turn in turns) >= 2:
        return "figure_of_eight"
    if np.ptp(heading[final.time_s[look] >= end - settings.pattern_straight_s]) < settings.pattern_straight_deg:
        return "straight_in"
    late = heading[final.time_s[look] >= end - settings.pattern_circuit_s]
    largest = max((abs(swing) for swing in heading_swings_deg(late, settings.pattern_swing_deg)), default=0.0)
    if settings.pattern_circuit_deg <= largest <= settings.pattern_circle_deg:
        return "circuit"
    return "other"


def heading_swings_deg(heading_deg: Floats, least_deg: float) -> list[float]:
    """Swings of an unwrapped heading between its turns to the other side, degrees, right positive.

    Swings smaller than `least_deg` are wobbles and part of what they interrupt.

    >>> heading_swings_deg(np.array([0.0, 100.0, 95.0, 180.0, 40.0]), 30.0)
    [180.0, -140.0]
    """
    swings: list[float] = []
    low = high = start = float(heading_deg[0])
    direction = 0
    for value in heading_deg.tolist():
        low, high = min(low, value), max(high, value)
        if direction >= 0 and value <= high - least_deg:
            if direction > 0:
                swings.append(high - start)
            start, low, direction = high, value, -1
        elif direction <= 0 and value >= low + least_deg:
            if direction < 0:
                swings.append(low - start)
            start, high, direction = low, value, 1
    if direction:
        swings.append((high if direction > 0 else low) - start)
    return swings


def _unsteady(
    final: _Final, on_final: slice, headwind: Estimate | None, known_course: float | None, settings: Settings
) -> tuple[Unsteadiness, ...]:
    """Each way in which the approach was not steady."""
    found = []
    low = (final.height_m <= settings.unsteady_below_m) & (final.time_s <= final.time_s[-1] - FLARE_S)
    # mean over 3.5 s: shorter sink is a gust, or the sensor
    steady = np.convolve(np.pad(final.climb_mps, 3, mode="edge"), np.full(7, 1 / 7), mode="valid")
    if low.any() and -steady[low].min() > settings.unsteady_sink_mps:
        found.append(Unsteadiness("sink", float(-steady[low].min()), settings.unsteady_below_m))
    if np.count_nonzero(low) > 2:
        swung = float(np.degrees(np.ptp(final.heading_rad[low])))
        if swung > settings.unsteady_turn_deg:
            found.append(Unsteadiness("turn", swung, settings.unsteady_below_m))
    seconds = float(final.time_s[-1] - final.time_s[final.start])
    if seconds < settings.unsteady_final_s:
        found.append(Unsteadiness("short_final", seconds))
    speeds = final.ground_speed_mps[on_final][: -round(FLARE_S / STEP_S)]
    if len(speeds) > 6 and np.std(speeds) > settings.unsteady_speed_mps:
        found.append(Unsteadiness("speed", float(np.std(speeds))))
    if headwind is not None and headwind.high < 0:
        found.append(Unsteadiness("tailwind", -headwind.value))
    if known_course is not None:
        off = math.degrees(abs(np.angle(np.exp(1j * (final.course_rad - known_course)))))
        if off > settings.pattern_final_deg:
            found.append(Unsteadiness("off_course", off))
    return tuple(found)
