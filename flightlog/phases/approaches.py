"""Passes: approaches meant to land on a top-landing ground, landed or broken off, told apart from soaring past."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Floats
from flightlog.motion.motion import Motion
from flightlog.phases.attempts import attempt_log_odds
from flightlog.phases.decisions import decision_time_s
from flightlog.phases.grid import largest, runs
from flightlog.phases.grounds import Ground
from flightlog.phases.padtrack import PadTrack, pad_track
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings

PLAIN_BELOW_M = 15.0
"""Lower than this over a place nobody is by chance; higher, an attempt and soaring past can be one track (M 7)."""
PASS_DEFINITION = (
    "A pass is an approach, meant to land, to a place whose use has top_landing, or, without a places file, to"
    " ground from which the log took off or on which it landed at that height.",
    "It starts at the last highest point before it, 60 s at most, and ends at touchdown or, when broken off, at"
    " the decision: the moment the pilot's controls change.",
    "A low point near the place is weighed: how steadily it came down, and out of which height, whether it flew"
    " into the wind without drifting across it, how long it stayed near, how near and how low it came, whether it"
    " was flown faster than usual, whether it rose soon after, and how strong the wind was."
    " Where that makes an attempt to land likelier than not, and the way led over the place (within its"
    " radius + 25 m, at least 60 m) no higher than a final begins, it is a sure pass;"
    " with less it is listed as possible and not counted.",
    f"Whose lowest point lay more than {PLAIN_BELOW_M:.0f} m above the place, an attempt and soaring past can be"
    " the same track: a count that such passes enter may differ from the pilot's by as many.",
    "How many approaches of a flight were broken off is given with a 95 % interval: each pass listed counts with"
    " the probability that it was meant to land.",
    "A go-around regains height: a descent that goes on past the place as before is none, and one that only sinks"
    " less from there is listed as possible. Low points without a climb away between them are one pass.",
)
"""What a pass is, in words to be shown with the figures; the numbers stand in Settings (`pass_`, `attempt_`)."""


@dataclass(frozen=True, eq=False)
class PassSpan:
    """One approach meant to land: from its last highest point to touchdown or to the decision to break it off."""

    ground: Ground
    start_s: float  # UTC seconds
    end_s: float  # touchdown, or the decision
    outcome: str  # landed | go_around
    certainty: str  # sure | possible
    decision_s: float | None  # None: landed
    lowest_s: float
    lowest_height_m: float  # above the ground, within its radius + 25 m (at least 60 m) where the pass came there
    closest_m: float  # least distance from the ground's centre
    free_until_s: float  # next pass starts or flight ends: how far a climb away can be followed
    score: float  # log odds that it was meant to land (M 7)


@dataclass(frozen=True)
class _Candidate:
    """A low point near a ground: its step, and the log odds that it was an attempt to land."""

    step: int
    score: float


def find_passes(
    motion: Motion, air: Air, span: FlightSpan, grounds: tuple[Ground, ...], settings: Settings
) -> tuple[PassSpan, ...]:
    """All passes of a flight at grounds with the use `top_landing`, in order of time.

    Parameters
    ----------
    motion, air
        Of the whole log.
    span : FlightSpan
        The flight.
    grounds : tuple of Ground
        From `find_grounds`; those without the use `top_landing` are left out.
    settings : Settings
        The thresholds whose names begin with `pass_` and `attempt_`.

    Returns
    -------
    tuple of PassSpan
        Those of the certainty `possible` are not to be counted as go-arounds. They do not overlap.

    References
    ----------
    Monstein et al. 2022 and Proud 2020 (go-around as descent on the approach followed by a climb), carried over to
    wings that cannot power up (M 7).
    """
    found: list[PassSpan] = []
    for ground in grounds:
        if "top_landing" in ground.use and span.touchdown_s - span.liftoff_s > 2.0:
            prior = _prior_log_odds(ground, grounds, settings)
            found += _passes_at(pad_track(motion, air, span, ground, settings), span, ground, prior, settings)
    return _followed(_best_of_overlapping(found), span)


def _prior_log_odds(ground: Ground, grounds: tuple[Ground, ...], settings: Settings) -> float:
    """What a ground's own history adds to the evidence of each low point over it, log odds.

    A launch that the log itself names is flown past all day; where the log shows another ground on top that was
    landed on, an approach was rather meant for that. A place of the pilot's file is what the file says it is.
    """
    if ground.name is not None or ground.landings:
        return 0.0
    landed_on = (other for other in grounds if other.landings and "top_landing" in other.use)
    near = any(
        np.hypot(other.east_m - ground.east_m, other.north_m - ground.north_m) <= settings.top_landing_reach_m
        for other in landed_on
    )
    return settings.attempt_launch_log_odds if near else 0.0


def _passes_at(
    track: PadTrack, span: FlightSpan, ground: Ground, prior_log_odds: float, settings: Settings
) -> list[PassSpan]:
    """Passes at one ground; the prior is added to the evidence of each low point."""
    landed = not span.ends_in_air and span.number in ground.landings
    last = len(track.time_s) - 1
    passes: list[PassSpan] = []
    candidates = _joined(track, _candidates(track, ground, prior_log_odds, settings), settings)
    previous_end = 0
    for number, candidate in enumerate(candidates, start=1):
        until = candidates[number].step if number < len(candidates) else last
        if landed and not _climbed_away(track, candidate.step, last, settings):
            continue  # part of the approach that landed
        if candidate.score < settings.attempt_possible_log_odds:
            continue
        certainty = _certainty(track, candidate, until, settings)
        if certainty is None:
            continue  # went on down past the landing ground as before: nothing was broken off
        decision = decision_time_s(track, candidate.step, settings)
        end = max(track.index(decision), previous_end + 1)
        steps = (previous_end, end, candidate.step)
        passes.append(_pass(track, ground, steps, decision, certainty, candidate.score, settings))
        previous_end = end
    if landed:
        steps = (previous_end, last, last)
        one = _pass(track, ground, steps, None, "sure", settings.attempt_sure_log_odds, settings)
        passes.append(replace(one, end_s=span.touchdown_s))
    return passes


def _certainty(track: PadTrack, candidate: _Candidate, until: int, settings: Settings) -> str | None:
    """`sure`, `possible`, or None: no break in the descent, so no go-around.

    Broken off for sure: at least `pass_least_regain_m` regained within `regain_within_s` and before the next low
    point. Possible: the sink of `pass_break_s` after the low point is less than that before it by
    `pass_break_mps`. Neither: a descent past the launch on the way to the valley.
    """
    step, width = candidate.step, track.steps(settings.pass_break_s)
    later = min(until, step + track.steps(settings.regain_within_s))
    if track.height_m[step : later + 1].max() - track.height_m[step] >= settings.pass_least_regain_m:
        is_sure = candidate.score >= settings.attempt_sure_log_odds
        return "sure" if is_sure else "possible"
    before, after = max(step - width, 0), min(step + width, len(track.time_s) - 1)
    if before == step or after == step:
        return None
    sink_before = float(track.height_m[before] - track.height_m[step]) / ((step - before) * track.step_s)
    sink_after = float(track.height_m[step] - track.height_m[after]) / ((after - step) * track.step_s)
    return "possible" if sink_before - sink_after >= settings.pass_break_mps else None


def _candidates(track: PadTrack, ground: Ground, prior_log_odds: float, settings: Settings) -> list[_Candidate]:
    """Low points within reach of the ground: bottoms of the height, or the closest point of a visit without."""
    reach = max(ground.radius_m + 25.0, settings.pass_reach_m)
    near = (track.aim_m <= reach) & (track.height_m < settings.pass_ceiling_m) & track.recorded
    near &= track.height_m > -settings.pass_below_m
    bottoms = turning_points(track.height_m, settings.pass_prominence_m)
    steps: list[int] = []
    visits = runs(near)
    first, last = (np.searchsorted(bottoms, ends).tolist() for ends in np.reshape(visits, (-1, 2)).T)
    for number, (start, stop) in enumerate(visits):
        inside = bottoms[first[number] : last[number]].tolist()
        if inside:
            steps += inside
        elif stop < len(near):
            steps.append(start + int(np.argmin(track.aim_m[start:stop] + 2.0 * track.height_m[start:stop])))
    deep = (_lost_before(track, steps, settings) >= settings.pass_prominence_m).tolist()
    low = [step for step, is_deep in zip(steps, deep, strict=True) if is_deep]
    scores = attempt_log_odds(track, low, settings)
    return [_Candidate(step, score + prior_log_odds) for step, score in zip(low, scores, strict=True)]


def turning_points(height_m: Floats, prominence_m: float) -> np.ndarray:
    """Steps of the bottoms of a height curve that rises by at least the prominence on both sides, in order.

    >>> turning_points(np.array([9.0, 5.0, 6.0, 2.0, 8.0, 7.0]), 3.0)
    array([3])
    """
    slope = np.sign(np.diff(height_m))
    moving = np.flatnonzero(slope)
    if len(moving) == 0:
        return np.empty(0, dtype=np.int64)
    turns = moving[:-1][np.diff(slope[moving]) != 0] + 1
    bottoms: list[int] = []
    low = 0
    falling = rising = False  # since the last turn that counts; at first neither
    steps = [*turns.tolist(), len(height_m) - 1]
    lowest = highest = height_m.item(0)
    for step, value in zip(steps, height_m[steps].tolist(), strict=True):
        if not rising and value < lowest:
            low, lowest = step, value
        if not falling and value > highest:
            highest = value
        if not rising and value >= lowest + prominence_m:
            if falling:
                bottoms.append(low)
            falling, rising, highest = False, True, value
        elif not falling and value <= highest - prominence_m:
            falling, rising, low, lowest = True, False, step, value
    return np.array(bottoms, dtype=np.int64)


def _lost_before(track: PadTrack, steps: list[int], settings: Settings) -> Floats:
    """Height lost since the highest point of the minute before each of k steps, (k,) m."""
    low = np.array(steps, dtype=np.int64)
    first = np.maximum(low - track.steps(settings.pass_longest_s), 0)
    return largest(track.height_m, first, low + 1) - track.height_m[low]


def _joined(track: PadTrack, candidates: list[_Candidate], settings: Settings) -> list[_Candidate]:
    """Low points without a climb away between them are one pass: the one with more evidence stands for both."""
    kept: list[_Candidate] = []
    for candidate in candidates:
        if kept and not _climbed_away(track, kept[-1].step, candidate.step, settings):
            kept[-1] = max(candidate, kept[-1], key=lambda one: one.score)
        else:
            kept.append(candidate)
    return kept


def _climbed_away(track: PadTrack, step: int, later: int, settings: Settings) -> bool:
    """Whether the pilot gave up the approach of this low point before a later one.

    Height worked off in turns, with a gust in between, is one approach; who was low and is clearly higher again
    has gone around.
    """
    regained = float(track.height_m[step : later + 1].max() - track.height_m[step])
    enough = max(settings.pass_prominence_m, settings.pass_regain_share * float(track.height_m[step]))
    return bool(track.time_s[later] - track.time_s[step] > settings.pass_apart_s and regained > enough)


def _pass(
    track: PadTrack,
    ground: Ground,
    steps: tuple[int, int, int],
    decision_s: float | None,
    certainty: str,
    score: float,
    settings: Settings,
) -> PassSpan:
    """A pass between two steps around its low point; sure only where it came over the place."""
    previous_end, end, lowest = steps
    start = _start(track, previous_end, end, settings)
    until = min(max(end + track.steps(AWAY_S), lowest + track.steps(5.0)) + 1, len(track.time_s))
    low = _lowest_step(track, ground, start, until)
    closest_m = float(track.distance_m[start:until].min())
    came_there = closest_m <= reach_m(ground) + POSITION_M and track.height_m[low] <= settings.pass_sure_below_m
    return PassSpan(
        ground=ground,
        start_s=float(track.time_s[start]),
        end_s=float(track.time_s[end]) if decision_s is None else decision_s,
        outcome="landed" if decision_s is None else "go_around",
        certainty=certainty if decision_s is None or came_there else "possible",
        decision_s=decision_s,
        lowest_s=float(track.time_s[low]),
        lowest_height_m=float(track.height_m[low]),
        closest_m=closest_m,
        free_until_s=float(track.time_s[-1]),
        score=score,
    )


POSITION_M = 4.0
"""What positions err by: who came so near to the edge of a place may have been over it."""
AWAY_S = 15.0
"""Flying away from a place takes so long: who breaks off before it may still come over it."""


def reach_m(ground: Ground) -> float:
    """Within so much of a place's centre is over it: its radius + 25 m, at least 60 m (published rule)."""
    return max(ground.radius_m + 25.0, 60.0)


def _start(track: PadTrack, previous_end: int, end: int, settings: Settings) -> int:
    """The last highest step before the end, at most a minute before and after the pass before."""
    first = max(previous_end, end - track.steps(settings.pass_longest_s))
    heights = track.height_m[first : end + 1]
    highest = first + len(heights) - 1 - int(np.argmax(heights[::-1]))
    return min(highest, max(end - 1, 0))


def _lowest_step(track: PadTrack, ground: Ground, first: int, until: int) -> int:
    """The lowest of these steps over the ground; the closest where none is."""
    inner = track.distance_m[first:until] <= reach_m(ground)
    if not inner.any():
        return first + int(np.argmin(track.distance_m[first:until]))
    return first + int(np.argmin(np.where(inner, track.height_m[first:until], np.inf)))


def _best_of_overlapping(passes: list[PassSpan]) -> list[PassSpan]:
    """Of passes at neighbouring grounds that are one and the same, the landed or surest one; in order of time."""
    kept: list[PassSpan] = []
    for one in sorted(passes, key=lambda p: (p.outcome != "landed", -p.score)):
        if all(one.end_s <= other.start_s or one.start_s >= other.end_s for other in kept):
            kept.append(one)
    return sorted(kept, key=lambda p: p.end_s)


def _followed(passes: list[PassSpan], span: FlightSpan) -> tuple[PassSpan, ...]:
    """Each pass with the time until which the climb away from it can be followed."""
    starts = [one.start_s for one in passes[1:]] + [span.touchdown_s][: len(passes)]
    return tuple(replace(one, free_until_s=until) for one, until in zip(passes, starts, strict=True))
