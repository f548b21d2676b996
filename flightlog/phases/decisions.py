"""The moment a pass is broken off: when sink ends and speed rises before the low point."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats
from flightlog.phases.padtrack import PadTrack
from flightlog.settings import Settings

CLIMB_SPREAD_MPS, SPEED_SPREAD_MPS = 0.6, 0.8
"""What climb and airspeed wander by in steady flight in gusts: one unit of evidence each (M 1)."""
MOST_UNITS = 3.0
"""Neither signal alone decides: beyond so many units a change is no surer."""


def decision_time_s(track: PadTrack, lowest: int, settings: Settings) -> float:
    """When the pilot's controls change, UTC seconds.

    Who comes down steeply (more than `decision_steep_mps`) holds the wing on the brakes or in a slip; let go, it
    stops sinking at once: the decision is the last strong sink in the seconds before the low point (M 7). Who
    comes down at the wing's own sink keeps sinking for a while, flying faster, until the lift is reached: the
    decision is the sharpest joint rise of climb and airspeed, means over `decision_window_s` before and after
    compared, from `decision_before_s` before the low point on; half a second is taken off for the wing's answer.

    Notes
    -----
    Weak: lift met on the way out looks like a change of controls, and who flies on past the landing point changes
    none. Half of the times are within about 4 s on simulated passes, nine tenths within 15 s.
    """
    first = max(lowest - track.steps(settings.decision_before_s), 1)
    last = min(lowest + track.steps(3.0), len(track.time_s) - 2)
    if last <= first:
        return float(track.time_s[lowest])
    width = track.steps(3.0)
    padded = np.pad(track.climb_mps[first : lowest + 1], (width // 2, width - 1 - width // 2), mode="edge")
    if float(np.convolve(padded, np.full(width, 1.0 / width), mode="valid").min()) < -settings.decision_steep_mps:
        return _last_strong_sink_s(track, lowest, settings)
    steps = np.arange(first, last + 1)
    window = track.steps(settings.decision_window_s)
    airspeed = np.hypot(track.air_east_mps, track.air_north_mps)
    climb_units = _rise(track.climb_mps, steps, window) / CLIMB_SPREAD_MPS
    speed_units = _rise(airspeed, steps, window) / SPEED_SPREAD_MPS
    evidence = np.clip(climb_units, 0.0, MOST_UNITS) + np.clip(speed_units, 0.0, MOST_UNITS)
    return float(min(track.time_s[first + int(np.argmax(evidence))], track.time_s[lowest]) - 0.5)


def _last_strong_sink_s(track: PadTrack, lowest: int, settings: Settings) -> float:
    """Last time of strong sink in the 6 s before the low point (M 7); the low point where there was none."""
    first = max(lowest - track.steps(6.0), 0)
    sinking = np.flatnonzero(track.climb_mps[first : lowest + 1] < -settings.decision_sink_mps)
    return float(track.time_s[first + sinking[-1]] if len(sinking) else track.time_s[lowest])


def _rise(values: Floats, steps: np.ndarray, width: int) -> Floats:
    """At each step the mean over the `width` values from it on, less the mean over those before it."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    before, after = np.maximum(steps - width, 0), np.minimum(steps + width, len(values))
    rise: Floats = (sums[after] - sums[steps]) / (after - steps) - (sums[steps] - sums[before]) / (steps - before)
    return rise
