"""Passes as published: how low, how near, how steady, broken off where, and what was regained."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.air.surface import headwind_estimate
from flightlog.arrays import Floats, lengths
from flightlog.measures.overview import instant
from flightlog.measures.results import Decision, Pass
from flightlog.motion.interpolation import MotionSamples, motion_at, motion_at_each
from flightlog.motion.motion import Motion
from flightlog.phases.approaches import PassSpan
from flightlog.phases.counting import attempt_probability
from flightlog.phases.grounds import Ground
from flightlog.phases.padtrack import distance_from_touches_m
from flightlog.settings import Settings

STEP_S = 0.5
FINAL_S = 8.0
"""The stretch before touchdown or decision that line-up, speed and sink are means of (published rule)."""
FINAL_M = 100.0
"""The stretch of path that the deviation is taken over (published rule)."""
ROUGH_LEVEL_M = 2.0
UNKNOWN_SLOPE = 0.1
"""Top meadows fall by 5 to 20 %; so much a metre is not known of ground beside what the log touched (trade)."""


@dataclass(frozen=True, eq=False)
class _Way:
    """A stretch of flight at even steps, relative to a ground; n times, gaps left out."""

    time_s: Floats
    height_m: Floats
    distance_m: Floats  # from the nearest known point of the ground
    velocity_east_mps: Floats
    velocity_north_mps: Floats
    climb_mps: Floats


def measure_passes(motion: Motion, air: Air, passes: tuple[PassSpan, ...], settings: Settings) -> tuple[Pass, ...]:
    """The passes of one flight with their figures, in order of time, numbered from 1.

    Parameters
    ----------
    motion, air
        Of the whole log.
    passes : tuple of PassSpan
        From `find_passes`.
    settings : Settings
        `regain_within_s`: how long after the lowest point height regained is looked for.

    Returns
    -------
    tuple of Pass
        `ground_speed_mps`, `sink_mps`, `headwind_mps` and `line_up_deg` are means over the last 8 s before the
        end. `line_up_deg` is taken from the field's own final course where the places file gives one, else from
        the mean track of those 8 s. `path_deviation_m` is None where fewer than 30 of the last 100 m to the
        place were flown. `lowest_height_sd_m` is 1 m with a barometer, 3 to 6 m with satellite heights alone.
        `decision` and `height_regained_m` are None for a landing.
    """
    times = [np.append(np.arange(one.start_s, one.end_s, STEP_S), one.end_s) for one in passes]
    return tuple(
        _measured(motion, air, number, one, way, _seconds_to_next_s(one, passes[number:]), settings)
        for number, (one, way) in enumerate(zip(passes, motion_at_each(motion, times), strict=True), start=1)
    )


def _seconds_to_next_s(one: PassSpan, later: tuple[PassSpan, ...]) -> float | None:
    """From the end of a pass to the end of the next sure one at the same ground, s; None where there is none."""
    ends = [other.end_s for other in later if other.certainty == "sure" and other.ground is one.ground]
    return ends[0] - one.end_s if ends else None


def _measured(
    motion: Motion,
    air: Air,
    number: int,
    one: PassSpan,
    samples: MotionSamples,
    seconds_to_next_s: float | None,
    settings: Settings,
) -> Pass:
    """One pass with its figures, from the motion at even steps of it."""
    way = _way(motion, one.ground, samples)
    height_sd_m = _lowest_height_sd_m(motion, one)
    final = way.time_s >= min(one.end_s, float(way.time_s[-1])) - FINAL_S  # a gap may hide the very end
    course = math.atan2(float(way.velocity_east_mps[final].mean()), float(way.velocity_north_mps[final].mean()))
    return Pass(
        number=number,
        place=one.ground.name,
        start=instant(one.start_s, motion),
        end=instant(one.end_s, motion),
        outcome=one.outcome,
        certainty=one.certainty,
        closest_m=one.closest_m,
        lowest_height_m=one.lowest_height_m,
        decision=_decision(motion, one),
        ground_speed_mps=float(lengths(way.velocity_east_mps, way.velocity_north_mps)[final].mean()),
        headwind_mps=headwind_estimate(motion, air, one.start_s, one.end_s, course, is_aloft=True),
        sink_mps=float(-way.climb_mps[final].mean()),
        path_deviation_m=_path_deviation_m(way),
        line_up_deg=_line_up_deg(way, final, one.ground.heading_deg),
        height_regained_m=_height_regained_m(motion, one, settings),
        note=_note(one, motion, height_sd_m),
        lowest_height_sd_m=height_sd_m,
        seconds_to_next_s=seconds_to_next_s,
        probability=attempt_probability(one),
    )


def _way(motion: Motion, ground: Ground, samples: MotionSamples) -> _Way:
    """The stretch relative to the ground, gaps left out; the last fix before its end where it is all gap."""
    times = samples.time_s
    known = np.isfinite(samples.altitude_m) & np.isfinite(samples.velocity_east_mps)
    if not known.any():
        before = max(int(np.searchsorted(motion.time_s, times[-1], side="right")) - 1, 0)
        times = motion.time_s[before : before + 1]
        samples, known = motion_at(motion, times), np.array([True])
    east, north = samples.east_m[known], samples.north_m[known]
    return _Way(
        times[known],
        samples.altitude_m[known] - ground.level_at(times[known]),
        distance_from_touches_m(ground, east, north),
        samples.velocity_east_mps[known],
        samples.velocity_north_mps[known],
        samples.climb_mps[known],
    )


def _decision(motion: Motion, one: PassSpan) -> Decision | None:
    """Where and when the pass was broken off; None for a landing."""
    if one.decision_s is None:
        return None
    at = _way(motion, one.ground, motion_at(motion, one.decision_s))
    return Decision(instant(one.decision_s, motion), float(at.height_m[-1]), float(at.distance_m[-1]))


def _lowest_height_sd_m(motion: Motion, one: PassSpan) -> float:
    """Standard deviation of the lowest height, m: without a places file the ground's slope is not known either."""
    level_sd_m = one.ground.height_sd_m(one.lowest_s, motion.altitude_source)
    if one.ground.name is not None:
        return level_sd_m
    away_m = float(_way(motion, one.ground, motion_at(motion, one.lowest_s)).distance_m[-1])
    return math.hypot(level_sd_m, UNKNOWN_SLOPE * away_m)


def _path_deviation_m(way: _Way) -> float | None:
    """Root mean square height off the straight path to the place over the last 100 m of the way there, m.

    The straight path falls evenly from where the pilot was 100 m before the place (or where the pass starts, if
    nearer) to the place's ground; the way still to go is the path flown until the end, plus what was then left.
    """
    speed = lengths(way.velocity_east_mps, way.velocity_north_mps)
    steps = 0.5 * (speed[1:] + speed[:-1]) * np.diff(way.time_s)
    to_go = np.concatenate([np.cumsum(steps[::-1])[::-1], [0.0]]) + way.distance_m[-1]
    last = to_go <= FINAL_M
    if not last.any() or np.ptp(to_go[last]) < 0.3 * FINAL_M:
        return None
    first = int(np.argmax(last))
    straight = way.height_m[first] * to_go[last] / to_go[first]
    return float(np.sqrt(np.mean((way.height_m[last] - straight) ** 2)))


def _line_up_deg(way: _Way, final: np.ndarray, heading_deg: float | None) -> float | None:
    """Mean angle between track and final course over the last 8 s; None where the pilot hardly moved."""
    east, north = way.velocity_east_mps[final], way.velocity_north_mps[final]
    moving = lengths(east, north) > 1.0
    if np.count_nonzero(moving) < 3:
        return None
    track = np.arctan2(east[moving], north[moving])
    course = math.radians(heading_deg) if heading_deg is not None else math.atan2(east.sum(), north.sum())
    return float(np.degrees(np.abs(np.angle(np.exp(1j * (track - course))))).mean())


def _height_regained_m(motion: Motion, one: PassSpan, settings: Settings) -> float | None:
    """Highest point after the lowest one, before the next pass, above it; None for a landing."""
    if one.decision_s is None:
        return None
    until = min(one.free_until_s, one.lowest_s + settings.regain_within_s)
    first = int(np.searchsorted(motion.time_s, one.lowest_s))
    inside = slice(first, int(np.searchsorted(motion.time_s, until, side="right")))
    if inside.stop <= first:
        return None
    lowest = float(one.ground.level_at(np.array([one.lowest_s]))[0]) + one.lowest_height_m
    return max(float(motion.altitude_m[inside].max()) - lowest, 0.0)


def _note(one: PassSpan, motion: Motion, height_sd_m: float) -> str | None:
    """What to know before leaning on the figures."""
    notes = []
    if one.certainty == "possible":
        notes.append("may have been a low fly-past: not counted as a go-around")
    off_m = 2 * height_sd_m
    if one.ground.level_sd_m > ROUGH_LEVEL_M:
        why = "the ground slopes there" if len(one.ground.touch_east_m) else "never landed here"
        notes.append(f"heights above the place may be off by {off_m:.0f} m: {why}")
    elif motion.altitude_source == "pressure" and off_m > 2 * ROUGH_LEVEL_M:
        notes.append(f"heights above the place may be off by {off_m:.0f} m: flown beside ground that is known")
    elif motion.altitude_source != "pressure":
        notes.append(f"heights above the place rest on satellites alone and may be off by {off_m:.0f} m")
    return "; ".join(notes) or None
