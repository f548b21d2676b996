"""The moment a pass is broken off: when the steady descent ends, seen in sink and speed before the low point."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats
from flightlog.phases.padtrack import PadTrack
from flightlog.settings import Settings

SINK_SPREAD_MPS = 0.5
"""What sink wanders by in gusts: one unit of evidence (M 1: vertical gusts of 0.5 m/s over some seconds)."""
SPEED_SPREAD_MPS = 1.0
"""What airspeed wanders by: one unit of evidence, of which speed can give two."""


def decision_time_s(track: PadTrack, lowest: int, settings: Settings) -> float:
    """When the pilot's controls change, UTC seconds.

    A pilot who breaks off lets go of the brakes or pulls in the bar, and turns away: the sink is strongest then
    and speed rises; from then on sink lessens until the lowest point, which a wing without engine reaches only in
    the lift, often 10 s and more later. So the decision is the moment, in the `decision_before_s` before the low
    point, at which sink and rise of speed together are largest; among moments hardly smaller
    (`decision_tie_units`), as in a descent that was steady to its end, the last. The wing's response time is taken
    off.

    Notes
    -----
    Who simply flies on past the landing point, too high, changes no controls: the moment found there is early by
    some 10 s. Median error on simulated passes broken off: 2 s.
    """
    first = max(lowest - track.steps(settings.decision_before_s), 1)
    last = min(lowest + 1, len(track.time_s) - 1)
    if last <= first:
        return float(track.time_s[lowest])
    sink = -_centred_means(track.climb_mps, track.steps(3.0))
    speed_rise = _rise(np.hypot(track.air_east_mps, track.air_north_mps), track.steps(settings.decision_window_s))
    evidence = (sink / SINK_SPREAD_MPS + np.clip(speed_rise / SPEED_SPREAD_MPS, 0.0, 2.0))[first : last + 1]
    near = np.flatnonzero(evidence >= evidence.max() - settings.decision_tie_units)
    return float(max(track.time_s[first + near[-1]] - settings.decision_response_s, track.time_s[0]))


def _centred_means(values: Floats, width: int) -> Floats:
    """Running mean over `width` steps, centred; the ends are held."""
    padded = np.pad(values, (width // 2, width - 1 - width // 2), mode="edge")
    return np.convolve(padded, np.full(width, 1.0 / width), mode="valid")


def _rise(values: Floats, width: int) -> Floats:
    """Mean over the `width` steps after each step less the mean over those before it."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(len(values))
    before, after = np.maximum(at - width, 0), np.minimum(at + width, len(values))
    mean_before = (sums[at] - sums[before]) / np.maximum(at - before, 1)
    rise: Floats = np.where(at > 0, (sums[after] - sums[at]) / (after - at) - mean_before, 0.0)
    return rise
