"""Was it meant to land? Evidence for an attempt at the low point of a passage over a landing ground (M 7)."""

from __future__ import annotations

import numpy as np

from flightlog.phases.padtrack import PadTrack
from flightlog.settings import Settings

UNKNOWN_SIDE_POINTS = 0.6
"""Half of what coming from downwind gives, where no wind is known; in calm nobody soars past: all of it."""


def attempt_score(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Points for an attempt to land whose lowest (or closest) point is this step; more is surer.

    Points are added for being low, for having come down steadily, for a straight way that would have touched near
    the landing point, for flying into the wind, and for having come from the downwind side; they are taken away
    for staying high, for aiming nowhere near, and for flying across the wind and never behind the landing point,
    as soaring along an edge does. `attempt_sure_points` and `attempt_possible_points` tell what they must make.

    Notes
    -----
    Above some 15 m in no wind a broken-off approach and soaring past can be the same track: "possible" is the
    honest answer. The points are those of M 7, found on simulated flights, not on real ones; that of the side the
    pilot comes from is added, because whoever lands into the wind has to come from behind the landing point.
    """
    came = _from_downwind(track, lowest, settings)
    return (
        _low(float(track.height_m[lowest]))
        + _coming_down(track, lowest, settings)
        + _aiming(track, lowest, settings, lenient=came > 0.0)
        + _into_wind(track, lowest, settings)
        + came
        + _passing_near(track, lowest, settings)
    )


def _low(height_m: float) -> float:
    """The lower, the surer it was meant; each threshold adds."""
    if height_m > 32.0:
        return -1.0
    return 2.0 * (height_m < 8.0) + 1.0 * (height_m < 15.0) + 0.5 * (height_m < 25.0)


def _coming_down(track: PadTrack, lowest: int, settings: Settings) -> float:
    """An approach loses height steadily, and without that nobody lands; soaring past has little mean sink.

    Judged by the steepest `attempt_descent_s` before the low point: broken off, the last seconds are shallow.
    """
    width = track.steps(settings.attempt_descent_s)
    first = max(lowest - width - track.steps(settings.decision_before_s), 0)
    heights = track.height_m[first : lowest + 1]
    if len(heights) <= width:
        width = max(len(heights) - 1, 1)
    if len(heights) < 2:
        return 0.0
    lost = float((heights[:-width] - heights[width:]).max())
    sink = lost / (width * track.step_s)
    return float(1.0 * (lost > 8.0) + 0.8 * (sink > 0.7) + 0.7 * (sink > 1.1) - 1.5 * (lost < 6.0))


def _aiming(track: PadTrack, lowest: int, settings: Settings, *, lenient: bool) -> float:
    """Whether the straight way on would, at some moment, have touched near the landing point.

    Broken off high, it would have touched far beyond: no points are lost then by a pilot who came from downwind.
    """
    first = max(lowest - track.steps(settings.attempt_descent_s), 0)
    miss = track.impact_miss_m[first : lowest + 1]
    best = float(np.nanmin(miss)) if np.isfinite(miss).any() else np.inf
    return 1.2 * (best < 40.0) + 0.6 * (best < 20.0) - 1.0 * (best > 90.0 and not lenient)


def _passing_near(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Who never came near the landing point was hardly on the way to it."""
    first = max(lowest - track.steps(settings.attempt_descent_s + settings.decision_before_s), 0)
    nearest = float(track.aim_m[first : lowest + 1].min())
    return -0.5 * (nearest > settings.attempt_near_m) - 1.0 * (nearest > 1.4 * settings.attempt_near_m)


def _into_wind(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Landings end into the wind; beats along a slope run across it. Nothing where no wind is known.

    In a calm every heading will do, and no slope lift carries anybody past: all the points.
    """
    first = max(lowest - track.steps(settings.attempt_final_s), 0)
    off = track.off_wind_deg[first : lowest + 1]
    if not np.isfinite(off).any():
        return 0.8 if track.calm[lowest] else 0.0
    mean = float(np.nanmedian(off))
    return 0.8 * (mean < 45.0) - 0.5 * (mean > 78.0)


def _from_downwind(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Whether the pilot came from behind the landing point, seen along the wind, and flew into it from there."""
    first = max(lowest - track.steps(settings.attempt_behind_s), 0)
    behind = track.downwind_m[first : lowest + 1]
    if not np.isfinite(behind).any():
        return 1.2 if track.calm[lowest] else UNKNOWN_SIDE_POINTS
    farthest = float(np.nanmax(behind))
    return 1.2 * (farthest > settings.attempt_behind_m) - 1.5 * (farthest < 0.0)
