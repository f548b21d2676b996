"""Was it meant to land? Evidence for an attempt at the low point of a passage over a landing ground (M 7)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Bools, Floats, lengths
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
    everywhere = _everywhere(track, settings)
    return [_log_odds(track, everywhere, lowest, settings) for lowest in steps]


def _log_odds(track: PadTrack, everywhere: _Everywhere, lowest: int, settings: Settings) -> float:
    """Log odds that the passage over one low point was an attempt to land: the sum of its evidence."""
    height_m = float(track.height_m[lowest])
    wind_mps = _wind_mps(track, lowest)
    soon_m, most_m = _rises_m(track, lowest, settings)
    far_m = _within(_nearest_m(track, lowest, settings), FAR_FROM_M, FAR_TO_M) - FAR_FROM_M
    return float(
        BEFORE_ANY_EVIDENCE
        + DESCENT_WEIGHT * min(_lost_m(track, everywhere, lowest, settings), DESCENT_MOST_M)
        + TOP_WEIGHT * min(_below_top_m(track, lowest, settings), TOP_MOST_M)
        + INTO_WIND_WEIGHT * _into_wind(track, everywhere, lowest, settings)
        + SLIDE_WEIGHT * min(_slide_mps(track, lowest, settings), SLIDE_MOST_MPS)
        + STAY_WEIGHT * _share_near(track, everywhere, lowest, settings)
        + FAR_WEIGHT * far_m
        + HIGH_WEIGHT * (_within(height_m, HIGH_FROM_M, HIGH_TO_M) - HIGH_FROM_M)
        + TURN_OUT_WEIGHT * _within(soon_m, 0.0, TURN_OUT_MOST_M)
        + RISE_WEIGHT * _within(most_m, 0.0, RISE_MOST_M)
        + BELOW_WEIGHT * _below_m(track, everywhere, lowest, settings)
        + HASTE_WEIGHT * _haste_mps(track, everywhere, lowest, settings)
        + WIND_WEIGHT * min(wind_mps, WIND_MOST_MPS)
    )


@dataclass(frozen=True, eq=False)
class _Everywhere:
    """What the evidence at any low point is drawn from, at all n steps of a track."""

    lost_m: Floats  # (n - w,) height lost within `attempt_descent_s` of each step
    cosine: Floats  # (n,) of the angle off the wind; NaN where unknown
    near: Bools  # (n,) within `attempt_near_m` of the landing point
    under_m: Floats  # (n,) below the place, beyond slopes and errors
    airspeed_mps: Floats  # (n,) in a wind that weakens towards the ground


def _everywhere(track: PadTrack, settings: Settings) -> _Everywhere:
    """Work it out once for all low points of a track.

    The wind met higher up is taken to weaken towards the ground as the logarithm of the height: taken whole, it
    would make every low approach look fast.
    """
    width = track.steps(settings.attempt_descent_s)
    heights = np.minimum(np.maximum(track.height_m, 10.0 * ROUGHNESS_M), FREE_WIND_M)
    share = np.log(heights / ROUGHNESS_M) / np.log(FREE_WIND_M / ROUGHNESS_M)
    ground_east, ground_north = track.velocity_east_mps, track.velocity_north_mps
    wind_east, wind_north = ground_east - track.air_east_mps, ground_north - track.air_north_mps
    return _Everywhere(
        lost_m=track.height_m[:-width] - track.height_m[width:],
        cosine=np.cos(np.radians(track.off_wind_deg)),
        near=track.aim_m < settings.attempt_near_m,
        under_m=-track.height_m - BELOW_FREE_M - 2.0 * track.height_sd_m,
        airspeed_mps=lengths(ground_east - share * wind_east, ground_north - share * wind_north),
    )


def _within(value: float, low: float, high: float) -> float:
    """The value, no lower and no higher than these."""
    return min(max(value, low), high)


def _lost_m(track: PadTrack, everywhere: _Everywhere, lowest: int, settings: Settings) -> float:
    """Most height lost within `attempt_descent_s` on the way there; broken off, the last seconds are shallow."""
    width = track.steps(settings.attempt_descent_s)
    first = max(lowest - width - track.steps(settings.decision_before_s), 0)
    if lowest + 1 - first <= width:
        return float(track.height_m[first : lowest + 1].max() - track.height_m[lowest])
    return max(float(everywhere.lost_m[first : lowest + 1 - width].max()), 0.0)


def _below_top_m(track: PadTrack, lowest: int, settings: Settings) -> float:
    """How far below the highest point of `attempt_top_s` before."""
    first = max(lowest - track.steps(settings.attempt_top_s), 0)
    return float(track.height_m[first : lowest + 1].max() - track.height_m[lowest])


def _into_wind(track: PadTrack, everywhere: _Everywhere, lowest: int, settings: Settings) -> float:
    """Mean cosine of the angle off the wind over `attempt_descent_s`."""
    first = max(lowest - track.steps(settings.attempt_descent_s), 0)
    cosine = everywhere.cosine[first : lowest + 1]
    known = cosine[np.isfinite(cosine)]
    return float(known.mean()) if len(known) else UNKNOWN_COSINE


def _slide_mps(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Speed over the ground across the wind: the least mean of `attempt_final_s` in the last `attempt_slide_s`."""
    width = track.steps(settings.attempt_final_s)
    first = max(lowest - track.steps(settings.attempt_slide_s), 0)
    across = track.across_wind_mps[first : min(lowest + 2, len(track.time_s))]
    means = _running_means(across[np.isfinite(across)], width)
    return float(means.min()) if len(means) else UNKNOWN_SLIDE_MPS


def _share_near(track: PadTrack, everywhere: _Everywhere, lowest: int, settings: Settings) -> float:
    """Share of the minute before (and 5 s after) spent within `attempt_near_m` of the landing point."""
    first = max(lowest - track.steps(settings.pass_longest_s), 0)
    near = everywhere.near[first : lowest + track.steps(5.0) + 1]
    return float(np.count_nonzero(near)) / len(near)


def _nearest_m(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Least distance from the landing point on the way there and just after."""
    first = max(lowest - track.steps(settings.attempt_descent_s + settings.decision_before_s), 0)
    return float(track.aim_m[first : lowest + track.steps(5.0) + 1].min())


def _rises_m(track: PadTrack, lowest: int, settings: Settings) -> tuple[float, float]:
    """Height regained `attempt_turn_out_s` after the low point, and the most within `attempt_rise_s`."""
    last = len(track.time_s) - 1
    soon = min(lowest + track.steps(settings.attempt_turn_out_s), last)
    later = min(lowest + track.steps(settings.attempt_rise_s), last)
    heights = track.height_m[lowest : max(soon, later) + 1] - track.height_m[lowest]
    return float(heights[soon - lowest]), float(heights[: later - lowest + 1].max())


def _below_m(track: PadTrack, everywhere: _Everywhere, lowest: int, settings: Settings) -> float:
    """How far below the place, beyond slopes and errors, within `attempt_rise_s` of the low point."""
    width = track.steps(settings.attempt_rise_s)
    return _within(float(everywhere.under_m[max(lowest - width, 0) : lowest + width + 1].max()), 0.0, BELOW_MOST_M)


def _haste_mps(track: PadTrack, everywhere: _Everywhere, lowest: int, settings: Settings) -> float:
    """Mean airspeed of `attempt_descent_s` above the flight's median, m/s; fading towards the ground."""
    first = max(lowest - track.steps(settings.attempt_descent_s), 0)
    mean_mps = float(everywhere.airspeed_mps[first : lowest + 1].mean())
    excess = _within(mean_mps - track.usual_airspeed_mps, 0.0, HASTE_MOST_MPS)
    up = (float(track.height_m[lowest]) - HASTE_FROM_M) / (HASTE_FULL_M - HASTE_FROM_M)
    return excess * _within(up, 0.0, 1.0)


def _wind_mps(track: PadTrack, lowest: int) -> float:
    """Wind at the low point."""
    if track.wind_known[lowest]:
        east = track.velocity_east_mps[lowest] - track.air_east_mps[lowest]
        return float(np.hypot(east, track.velocity_north_mps[lowest] - track.air_north_mps[lowest]))
    return 0.0 if track.calm[lowest] else UNKNOWN_WIND_MPS


def _running_means(values: Floats, width: int) -> Floats:
    """Means over each `width` neighbours; of all where there are fewer."""
    width = min(width, len(values))
    if width == 0:
        return values
    sums = np.concatenate([[0.0], np.cumsum(values)])
    means: Floats = (sums[width:] - sums[:-width]) / width
    return means
