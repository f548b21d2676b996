"""Was it meant to land? Evidence for an attempt at the low point of a passage over a landing ground (M 7)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from flightlog.arrays import Bools, Floats, Ints, lengths
from flightlog.phases.grid import largest
from flightlog.phases.padtrack import PadTrack
from flightlog.settings import Settings

BEFORE_ANY_EVIDENCE = -7.6
"""Log odds of a low point near the place that shows nothing of what follows: it is soaring past."""
DESCENT_WEIGHT, DESCENT_MOST_M = 0.27, 20.0
"""For each metre lost within 15 s: still air takes 15-20 m of a wing in that time, lift in a beat leaves few."""
TOP_WEIGHT, TOP_MOST_M = 0.045, 50.0
"""For each metre below the highest point of the two minutes before: an approach leaves the band soared in."""
INTO_WIND_WEIGHT = 1.8
"""For the mean cosine of the angle off the wind: landings end into the wind, beats run across it."""
SLIDE_WEIGHT, SLIDE_MOST_MPS = -0.3, 12.0
"""For each m/s across the wind in the 4 s that drifted least: nobody touches down drifting along an edge."""
STAY_WEIGHT = 3.7
"""For the share of the last minute spent near the place: circuits and eights stay there, beats pass by."""
FAR_WEIGHT, FAR_FROM_M, FAR_TO_M = -0.075, 40.0, 110.0
"""For each metre that the nearest point is farther off than a base leg of a paraglider."""
HIGH_WEIGHT, HIGH_FROM_M, HIGH_TO_M = -0.07, 20.0, 45.0
"""For each metre higher than that at the low point: the higher, the less can be told from soaring past."""
TURN_OUT_WEIGHT, TURN_OUT_MOST_M = 0.22, 12.0
"""For each metre regained in the first 10 s after: who breaks off turns to the lift; soaring past stays level."""
RISE_WEIGHT, RISE_MOST_M = 0.1, 20.0
"""And for each metre to the highest point of the first 20 s."""
BELOW_WEIGHT, BELOW_FREE_M, BELOW_MOST_M = -0.4, 2.0, 10.0
"""For each metre flown below the place, beyond slopes and errors: who comes from below saves height, lands not."""
WIND_WEIGHT, WIND_MOST_MPS = -0.15, 12.0
"""For each m/s of wind: in strong slope lift every low point is followed by a rise."""
HASTE_WEIGHT, HASTE_MOST_MPS = -2.2, 1.5
"""For each m/s through the air faster than usual: who comes to stop slows down, who looks and leaves speeds up.

No more than that: hang gliders are flown faster on approach than in lift, and brakes let up add 1 m/s."""
HASTE_FROM_M, HASTE_FULL_M = 2.0, 12.0
"""Not lower: who is so low is not there for a look, and gusts and the wind's gradient hide his airspeed."""
ROUGHNESS_M, FREE_WIND_M = 0.03, 25.0
"""Of short grass (from memory: the usual classes of roughness); from that height up the wind is taken whole."""
AFTER_S = 5.0
"""So long after the low point a passage still counts as near the place."""
UNKNOWN_COSINE, UNKNOWN_SLIDE_MPS, UNKNOWN_WIND_MPS = 0.5, 3.0, 4.0
"""Where no wind is known: what passes and other low points have in the middle, so that nothing follows from it."""

WEIGHTS = (
    ("log odds before any evidence", BEFORE_ANY_EVIDENCE, "a low point that shows nothing of what follows"),
    ("log odds a metre lost in 15 s", DESCENT_WEIGHT, "20 m at most; an approach comes down steadily"),
    ("log odds a metre below the top", TOP_WEIGHT, "50 m at most; an approach leaves the band soared in"),
    ("log odds straight into the wind", INTO_WIND_WEIGHT, "landings end into the wind, beats run across it"),
    ("log odds a m/s of drift", SLIDE_WEIGHT, "nobody touches down drifting along an edge"),
    ("log odds the whole minute near", STAY_WEIGHT, "circuits and eights stay near, beats pass by"),
    ("log odds a metre beyond 40 m", FAR_WEIGHT, "nearest point, as far as 110 m"),
    ("log odds a metre above 20 m", HIGH_WEIGHT, "at the low point, as high as 45 m"),
    ("log odds a metre regained in 10 s", TURN_OUT_WEIGHT, "12 m at most; who breaks off turns to the lift"),
    ("log odds a metre regained in 20 s", RISE_WEIGHT, "20 m at most; and rises in it"),
    ("log odds a metre flown below it", BELOW_WEIGHT, "beyond 2 m and what heights err; a low save, no approach"),
    ("log odds a m/s of haste", HASTE_WEIGHT, "1.5 m/s faster than usual at most, 12 m up; who lands slows down"),
    ("log odds a m/s of wind", WIND_WEIGHT, "in strong slope lift every low point is followed by a rise"),
)
"""The evidence for an attempt, to be shown with the figures: what, how much, why."""


def attempt_log_odds(track: PadTrack, steps: Sequence[int], settings: Settings) -> list[float]:
    """Log odds that the passages whose lowest (or closest) points are these steps were attempts to land.

    Evidence is added for having come down steadily and out of the band soared in, for flying into the wind without
    drifting across it, for staying near the place, and for rising soon after; it is taken away for staying high
    or far off, for flying faster than usual, and in strong wind, where soaring alone makes low points like these.
    Zero means as likely as not; `attempt_sure_log_odds` and `attempt_possible_log_odds` tell what is counted and
    what is listed.

    Notes
    -----
    The weights were rounded from a logistic regression over the low points of 330 simulated days, 72 of them
    from an independent simulation whose pilots fly otherwise, and set half way to those of a second one over 590
    more: either alone judges the days it was fitted to better than new ones. Fitted to some of the sets they
    judge the others as well (2 to 3 % of low points wrong, where points set by hand had 8 %). A third simulation,
    of other hills and pilots, was judged by the first fit, before its days went into the second: 121 of 124
    attempts counted and the others listed, 1 of 41 spells of low beats and none of 6 low saves counted; but 27 of
    31 quick looks at the windsock, down over the place at 20 m and away, were. Haste was added for them, its
    weight set to leave the attempts of the other simulations counted: some half of such looks still are, those
    flown at little more than the usual speed. No real flights with known intentions were at hand. Broken off
    above some 15 m, an attempt and soaring past can be the same track.
    """
    if not steps:
        return []
    lowest = np.asarray(steps, dtype=np.int64)
    seen = _Seen(track, settings)
    soon_m, most_m = _rises_m(track, seen, lowest)
    far_m = _within(_nearest_m(track, seen, lowest), FAR_FROM_M, FAR_TO_M) - FAR_FROM_M
    score: Floats = (
        BEFORE_ANY_EVIDENCE
        + DESCENT_WEIGHT * np.minimum(_lost_m(track, seen, lowest), DESCENT_MOST_M)
        + TOP_WEIGHT * np.minimum(_below_top_m(track, seen, lowest), TOP_MOST_M)
        + INTO_WIND_WEIGHT * _into_wind(seen, lowest)
        + SLIDE_WEIGHT * np.minimum(_slide_mps(seen, lowest), SLIDE_MOST_MPS)
        + STAY_WEIGHT * _share_near(seen, lowest)
        + FAR_WEIGHT * far_m
        + HIGH_WEIGHT * (_within(track.height_m[lowest], HIGH_FROM_M, HIGH_TO_M) - HIGH_FROM_M)
        + TURN_OUT_WEIGHT * _within(soon_m, 0.0, TURN_OUT_MOST_M)
        + RISE_WEIGHT * _within(most_m, 0.0, RISE_MOST_M)
        + BELOW_WEIGHT * _below_m(seen, lowest)
        + HASTE_WEIGHT * _haste_mps(track, seen, lowest)
        + WIND_WEIGHT * np.minimum(_wind_mps(track, lowest), WIND_MOST_MPS)
    )
    scores: list[float] = score.tolist()
    return scores


class _Seen:
    """What the evidence at any low point is drawn from, worked out once for all n steps of a track.

    Running sums start with 0 and have n + 1 values; those of columns that are not known everywhere come with how
    many are known before each step.
    """

    def __init__(self, track: PadTrack, settings: Settings) -> None:
        self.descent, self.top = track.steps(settings.attempt_descent_s), track.steps(settings.attempt_top_s)
        self.before, self.longest = track.steps(settings.decision_before_s), track.steps(settings.pass_longest_s)
        self.slide, self.final = track.steps(settings.attempt_slide_s), track.steps(settings.attempt_final_s)
        self.turn_out, self.rise = track.steps(settings.attempt_turn_out_s), track.steps(settings.attempt_rise_s)
        self.way_there = track.steps(settings.attempt_descent_s + settings.decision_before_s)
        self.after = track.steps(AFTER_S)
        self.lost_m = track.height_m[: -self.descent] - track.height_m[self.descent :]
        self.cosine_count, self.cosine_sums = _known_sums(track.into_wind)
        self.across_count, self.across_sums = _known_sums(track.across_wind_mps)
        self.slides_mps = self.across_sums[self.final :] - self.across_sums[: -self.final]
        self.near_sums = _sums(track.aim_m < settings.attempt_near_m)
        self.under_m = -track.height_m - BELOW_FREE_M - 2.0 * track.height_sd_m
        self.airspeed_sums = _sums(_low_airspeed_mps(track))


def _sums(values: Floats | Bools) -> Floats:
    """Running sums of values (n,), (n + 1,), from 0."""
    sums = np.zeros(len(values) + 1)
    np.cumsum(values, out=sums[1:])
    return sums


def _known_sums(values: Floats) -> tuple[Ints, Floats]:
    """How many values are known before each step (n + 1,), and the running sums of the known ones."""
    known = np.isfinite(values)
    return _sums(known).astype(np.int64), _sums(values[known])


def _low_airspeed_mps(track: PadTrack) -> Floats:
    """Airspeed (n,) in a wind that weakens towards the ground as the logarithm of the height.

    Taken whole, the wind met higher up would make every low approach look fast.
    """
    heights = np.minimum(np.maximum(track.height_m, 10.0 * ROUGHNESS_M), FREE_WIND_M)
    share = np.log(heights / ROUGHNESS_M) / np.log(FREE_WIND_M / ROUGHNESS_M)
    ground_east, ground_north = track.velocity_east_mps, track.velocity_north_mps
    wind_east, wind_north = ground_east - track.air_east_mps, ground_north - track.air_north_mps
    return lengths(ground_east - share * wind_east, ground_north - share * wind_north)


def _within(values: Floats, low: float, high: float) -> Floats:
    """The values, no lower and no higher than these."""
    return np.minimum(np.maximum(values, low), high)


def _lost_m(track: PadTrack, seen: _Seen, lowest: Ints) -> Floats:
    """Most height lost within `attempt_descent_s` on the way there; broken off, the last seconds are shallow."""
    first = np.maximum(lowest - seen.descent - seen.before, 0)
    lost = largest(track.height_m, first, lowest + 1) - track.height_m[lowest]
    whole = lowest + 1 - first > seen.descent
    if whole.any():
        lost[whole] = np.maximum(largest(seen.lost_m, first[whole], lowest[whole] + 1 - seen.descent), 0.0)
    return lost


def _below_top_m(track: PadTrack, seen: _Seen, lowest: Ints) -> Floats:
    """How far below the highest point of `attempt_top_s` before."""
    return largest(track.height_m, np.maximum(lowest - seen.top, 0), lowest + 1) - track.height_m[lowest]


def _into_wind(seen: _Seen, lowest: Ints) -> Floats:
    """Mean cosine of the angle off the wind over `attempt_descent_s`."""
    a, b = seen.cosine_count[np.maximum(lowest - seen.descent, 0)], seen.cosine_count[lowest + 1]
    sums, unknown = seen.cosine_sums, np.full(len(lowest), UNKNOWN_COSINE)
    return np.asarray(np.divide(sums[b] - sums[a], b - a, out=unknown, where=b > a))


def _slide_mps(seen: _Seen, lowest: Ints) -> Floats:
    """Speed over the ground across the wind: the least mean of `attempt_final_s` in the last `attempt_slide_s`."""
    a = seen.across_count[np.maximum(lowest - seen.slide, 0)]
    b = seen.across_count[np.minimum(lowest + 2, len(seen.across_count) - 1)]
    sums, unknown = seen.across_sums, np.full(len(lowest), UNKNOWN_SLIDE_MPS)
    slide: Floats = np.divide(sums[b] - sums[a], b - a, out=unknown, where=b > a)
    long = b - a > seen.final
    if long.any():
        slide[long] = -largest(-seen.slides_mps, a[long], b[long] + 1 - seen.final) / seen.final
    return slide


def _share_near(seen: _Seen, lowest: Ints) -> Floats:
    """Share of the minute before (and 5 s after) spent within `attempt_near_m` of the landing point."""
    first = np.maximum(lowest - seen.longest, 0)
    stop = np.minimum(lowest + seen.after + 1, len(seen.near_sums) - 1)
    return np.asarray((seen.near_sums[stop] - seen.near_sums[first]) / (stop - first))


def _nearest_m(track: PadTrack, seen: _Seen, lowest: Ints) -> Floats:
    """Least distance from the landing point on the way there and just after."""
    return -largest(-track.aim_m, np.maximum(lowest - seen.way_there, 0), lowest + seen.after + 1)


def _rises_m(track: PadTrack, seen: _Seen, lowest: Ints) -> tuple[Floats, Floats]:
    """Height regained `attempt_turn_out_s` after the low point, and the most within `attempt_rise_s`."""
    low_m = track.height_m[lowest]
    soon = np.minimum(lowest + seen.turn_out, len(track.time_s) - 1)
    return track.height_m[soon] - low_m, largest(track.height_m, lowest, lowest + seen.rise + 1) - low_m


def _below_m(seen: _Seen, lowest: Ints) -> Floats:
    """How far below the place, beyond slopes and errors, within `attempt_rise_s` of the low point."""
    under_m = largest(seen.under_m, np.maximum(lowest - seen.rise, 0), lowest + seen.rise + 1)
    return _within(under_m, 0.0, BELOW_MOST_M)


def _haste_mps(track: PadTrack, seen: _Seen, lowest: Ints) -> Floats:
    """Mean airspeed of `attempt_descent_s` above the flight's median, m/s; fading towards the ground."""
    first = np.maximum(lowest - seen.descent, 0)
    mean_mps = (seen.airspeed_sums[lowest + 1] - seen.airspeed_sums[first]) / (lowest + 1 - first)
    excess: Floats = _within(mean_mps - track.usual_airspeed_mps, 0.0, HASTE_MOST_MPS)
    up = (track.height_m[lowest] - HASTE_FROM_M) / (HASTE_FULL_M - HASTE_FROM_M)
    return excess * _within(up, 0.0, 1.0)


def _wind_mps(track: PadTrack, lowest: Ints) -> Floats:
    """Wind at the low points."""
    east = track.velocity_east_mps[lowest] - track.air_east_mps[lowest]
    north = track.velocity_north_mps[lowest] - track.air_north_mps[lowest]
    otherwise = np.where(track.calm[lowest], 0.0, UNKNOWN_WIND_MPS)
    return np.where(track.wind_known[lowest], lengths(east, north), otherwise)
