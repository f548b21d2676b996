"""The moment a pass is broken off: when sink, turn and speed change together near the lowest point."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats
from flightlog.phases.padtrack import PadTrack
from flightlog.settings import Settings

SPREADS = (0.6, 6.0, 1.0)
"""What climb (m/s), turn rate (degrees/s) and airspeed (m/s) wander by in steady flight in gusts: the scale on
which their changes are added up (M 1, M 3: turn rate 5 degrees/s straight)."""


def decision_time_s(track: PadTrack, lowest: int, settings: Settings) -> float:
    """When the pilot's controls change, UTC seconds: the sharpest joint change of climb, turn and speed.

    Looked for from `decision_before_s` before the low point to `decision_after_s` after it; the means over
    `decision_window_s` on both sides are compared. The wing answers late, so the response time
    `decision_response_s` is taken off.
    """
    first = max(lowest - track.steps(settings.decision_before_s), 1)
    last = min(lowest + track.steps(settings.decision_after_s), len(track.time_s) - 2)
    if last <= first:
        return float(track.time_s[lowest])
    signals = (track.climb_mps, _turn_rate_degps(track), np.hypot(track.air_east_mps, track.air_north_mps))
    change = np.zeros(last - first + 1)
    for values, spread in zip(signals, SPREADS, strict=True):
        change += (_step_change(values, first, last, track.steps(settings.decision_window_s)) / spread) ** 2
    at = first + int(np.argmax(change))
    return float(max(track.time_s[at] - settings.decision_response_s, track.time_s[0]))


def _turn_rate_degps(track: PadTrack) -> Floats:
    """Turn rate through the air, degrees/s."""
    heading = np.unwrap(np.arctan2(track.air_east_mps, track.air_north_mps))
    rate: Floats = np.degrees(np.gradient(heading, track.step_s))
    return rate


def _step_change(values: Floats, first: int, last: int, width: int) -> Floats:
    """Mean over the `width` steps after less mean over those before, for every step from first to last."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(first, last + 1)
    before, after = np.maximum(at - width, 0), np.minimum(at + width, len(values))
    change: Floats = (sums[after] - sums[at]) / (after - at) - (sums[at] - sums[before]) / (at - before)
    return change
