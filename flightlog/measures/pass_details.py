"""Passes in the terms of a stabilised approach: path at 100, 50 and 25 m, changes of course, speed, sink, wind.

A stabilised approach keeps a constant angle to a chosen point of the landing area (FAA Airplane Flying Handbook,
chapter on approaches and landings, quoted at second hand) with only small changes of heading, a held speed and a
bounded sink (Flight Safety Foundation, ALAR Briefing Note 7.1, elements at second hand). Both speak of aeroplanes
with engines; for foot-launched wings no numeric limits are published. The figures here are facts, not marks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from flightlog.air.air import Air
from flightlog.air.surface import wind_near_ground
from flightlog.arrays import Bools, Floats, lengths
from flightlog.estimates import Estimate, normal_estimate
from flightlog.measures.overview import instant
from flightlog.measures.results import Pass, PassDetail, PathPoint
from flightlog.motion.interpolation import MotionSamples, motion_at, motion_at_each
from flightlog.motion.motion import Motion
from flightlog.phases.approaches import PassSpan
from flightlog.phases.grounds import Ground

STEP_S = 0.5
TO_GO_M = (100.0, 50.0, 25.0)
"""Where the path is looked at: finals of foot-launched wings are 50 to 150 m long (common practice, no source)."""
ANGLE_S = 5.0
"""The angle just flown is a mean of so long: shorter is a gust, longer a turn."""
SINK_SPREAD_MPS = 0.3
"""What a mean sink of 5 s wanders by in steady flight: vertical gusts of 0.45 m/s last 5 to 6 s (M 1)."""
STEADY_S = 8.0
"""Course, speed and sink are judged over the last so many seconds, as the other figures of a pass."""
FLARE_S = 2.0
"""Before a touchdown these seconds are left out: a flare changes speed and sink on purpose."""
SINK_MEAN_S = 3.5
"""Sink that lasts shorter is a gust, or the sensor."""
SLOWEST_MPS = 0.5
"""Slower over the ground than this there is no way on to speak of."""


@dataclass(frozen=True, eq=False)
class _Way:
    """A pass at steps of half a second, gaps left out; n times."""

    time_s: Floats
    to_go_m: Floats  # path flown until the end, and what was then left to the place
    height_m: Floats  # above the place
    velocity_east_mps: Floats
    velocity_north_mps: Floats
    climb_mps: Floats

    @cached_property
    def speed_mps(self) -> Floats:
        """Speed over the ground."""
        return lengths(self.velocity_east_mps, self.velocity_north_mps)


def add_details(
    motion: Motion, air: Air, spans: tuple[PassSpan, ...], passes: tuple[Pass, ...]
) -> tuple[Pass, ...]:
    """The passes, each with its `detail`.

    Parameters
    ----------
    motion, air
        Of the whole log.
    spans : tuple of PassSpan
        From `find_passes`.
    passes : tuple of Pass
        From `measure_passes`, one for each span.

    Returns
    -------
    tuple of Pass
        `detail.points` holds 100, 50 and 25 m to go, those that the pass came to; the way to go is the path flown
        until touchdown or decision, plus what was then left to the nearest known point of the place.
        `greatest_sink_mps` (means of 3.5 s), `course_change_deg` and `speed_spread_mps` (standard deviation) are
        those of the last 8 s, without the last 2 s before a touchdown.
    """
    ways = motion_at_each(motion, [_times(span) for span in spans])
    return tuple(
        replace(one, detail=pass_detail(motion, air, span, way))
        for span, one, way in zip(spans, passes, ways, strict=True)
    )


def pass_detail(motion: Motion, air: Air, span: PassSpan, samples: MotionSamples | None = None) -> PassDetail:
    """One pass in detail; what the log does not tell is None, and the note says why.

    `samples` is the motion at steps of half a second, where it is at hand.
    """
    way = _way(span, samples or motion_at(motion, _times(span)))
    if way is None:
        return PassDetail((), None, None, None, None, None, None, None, "the recorder was silent in this pass")
    until = span.end_s - (FLARE_S if span.outcome == "landed" else 0.0)
    steady = (way.time_s >= until - STEADY_S) & (way.time_s <= until)
    points = tuple(
        point for to_go in TO_GO_M if (point := _point(motion, way, to_go, span.ground.level_sd_m)) is not None
    )
    wind = wind_near_ground(motion, air, span.start_s, span.end_s, is_aloft=True)
    return PassDetail(
        points=points,
        wind_from_deg=None if wind is None else math.degrees(math.atan2(-wind[0], -wind[1])) % 360.0,
        wind_speed_mps=None if wind is None else math.hypot(wind[0], wind[1]),
        wind_se_mps=None if wind is None else wind[2],
        crosswind_mps=_crosswind(way, steady, wind),
        greatest_sink_mps=_greatest_sink_mps(way, steady),
        course_change_deg=_course_change_deg(way, steady),
        speed_spread_mps=float(np.std(way.speed_mps[steady])) if np.count_nonzero(steady) > 6 else None,
        note=None if wind is not None else "the wind of this pass is not known",
    )


def _times(span: PassSpan) -> Floats:
    """Every half second of a pass, and its end."""
    return np.append(np.arange(span.start_s, span.end_s - 0.25 * STEP_S, STEP_S), span.end_s)


def _way(span: PassSpan, samples: MotionSamples) -> _Way | None:
    """The pass at even steps relative to its place; None where fewer than two of them were recorded."""
    known = np.isfinite(samples.altitude_m) & np.isfinite(samples.velocity_east_mps)
    if np.count_nonzero(known) < 2:
        return None
    east, north, times = samples.east_m[known], samples.north_m[known], samples.time_s[known]
    flown = np.hypot(np.diff(east), np.diff(north))
    left = _distance_left_m(span.ground, float(east[-1]), float(north[-1]))
    return _Way(
        times,
        np.concatenate([np.cumsum(flown[::-1])[::-1], [0.0]]) + left,
        samples.altitude_m[known] - span.ground.level_at(times),
        samples.velocity_east_mps[known],
        samples.velocity_north_mps[known],
        samples.climb_mps[known],
    )


def _distance_left_m(ground: Ground, east_m: float, north_m: float) -> float:
    """How far it is to the nearest known point of the place: its centre, or where the log touched it."""
    points = [(ground.east_m, ground.north_m), *zip(ground.touch_east_m, ground.touch_north_m, strict=True)]
    return float(min(math.hypot(east_m - x, north_m - y) for x, y in points))


def _point(motion: Motion, way: _Way, to_go_m: float, level_sd_m: float) -> PathPoint | None:
    """The pass where so much was left to go; None where it began nearer or ended farther off."""
    if not way.to_go_m[-1] <= to_go_m <= way.to_go_m[0]:
        return None
    time_s = float(np.interp(-to_go_m, -way.to_go_m, way.time_s))
    just = (way.time_s >= time_s - ANGLE_S) & (way.time_s <= time_s + 0.5 * STEP_S)
    if np.count_nonzero(just) < 3:
        return None  # the pass has only begun, or the recorder was silent
    height = float(np.interp(time_s, way.time_s, way.height_m))
    speed, sink = float(way.speed_mps[just].mean()), float(-way.climb_mps[just].mean())
    off: Estimate | None = None
    if speed >= SLOWEST_MPS:
        seconds = to_go_m / speed
        off = normal_estimate(height - seconds * sink, math.hypot(level_sd_m, seconds * SINK_SPREAD_MPS))
    return PathPoint(to_go_m, instant(time_s, motion), height, speed, sink, off)


def _crosswind(way: _Way, steady: Bools, wind: tuple[float, float, float] | None) -> Estimate | None:
    """Wind across the mean course of the last seconds, positive from the right."""
    if wind is None or not steady.any():
        return None
    east, north = float(way.velocity_east_mps[steady].mean()), float(way.velocity_north_mps[steady].mean())
    speed = math.hypot(east, north)
    if speed < SLOWEST_MPS:
        return None
    return normal_estimate((wind[1] * east - wind[0] * north) / speed, wind[2])


def _greatest_sink_mps(way: _Way, steady: Bools) -> float | None:
    """Greatest mean sink of 3.5 s in the last seconds."""
    sink = -way.climb_mps[steady]
    width = round(SINK_MEAN_S / STEP_S)
    if len(sink) < width:
        return None
    return float(np.convolve(sink, np.full(width, 1.0 / width), mode="valid").max())


def _course_change_deg(way: _Way, steady: Bools) -> float | None:
    """How far the track over the ground swung in the last seconds; None where the pilot hardly moved."""
    moving = steady & (way.speed_mps > 1.0)
    if np.count_nonzero(moving) < 6:
        return None
    track = np.unwrap(np.arctan2(way.velocity_east_mps[moving], way.velocity_north_mps[moving]))
    return float(np.degrees(np.ptp(track)))
