"""The moment a pass is broken off: when the pilot's controls change on the way down."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats, lengths
from flightlog.phases.padtrack import PadTrack
from flightlog.settings import Settings

CLIMB_WEIGHT, SPEED_WEIGHT, TURN_WEIGHT = 0.7, 0.3, 0.7
"""Evidence in each m/s that climb, and airspeed, rise by, and in each radian more turned after than before."""
SINK_WEIGHT, HEIGHT_WEIGHT = 0.5, -0.1
"""For each m/s of sink then (who is no longer sinking has decided), and each m above the landing ground."""
PASSED_WEIGHT = -1.0
"""Who flies on beyond the landing point seldom still means to land."""
LEAD_WEIGHTS_PER_S = (0.03, -0.005)
"""For each second, and second squared, before the low point: most decisions come 3 s before it."""
AFTER_LOW_S = 4.0
"""Who floats over the place in lift leaves the ground before he gives it up."""


def decision_time_s(track: PadTrack, lowest: int, settings: Settings) -> float:
    """When the pilot's controls change, UTC seconds.

    Every second from `decision_search_s` before the low point to just after it is weighed: does sink end, does the
    wing turn away or fly faster there (means over `decision_window_s` before and after compared), was it sinking
    until then, low, and not yet beyond the landing point? Sums of evidence are log odds; the moment given has half
    of the odds before it and half after, so that two changes equally likely give a time between them.

    Notes
    -----
    The weights were rounded from fits to two independent sets of simulated passes; the decision is
    found within 2-3 s at half of the passes and within 6-8 s at nine of ten. Weak: lift met on the way
    out looks like a change of controls, and a pilot who decides high and flies straight on over the landing point
    shows none: the time is then late by 10 s. Oftener it is early by as much (one pass in thirteen by more than
    8 s, late one in a hundred), where a pilot floats on over the place without sinking before he gives up.
    """
    first = max(lowest - track.steps(settings.decision_search_s), 1)
    last = min(lowest + track.steps(AFTER_LOW_S), len(track.time_s) - 2)
    if last <= first:
        return float(track.time_s[lowest])
    steps = np.arange(first, last + 1)
    evidence = _evidence(track, steps, lowest, track.steps(settings.decision_window_s))
    odds = np.exp(evidence - evidence.max())
    before = np.concatenate([[0.0], np.cumsum(odds)])  # odds of a decision before each step's own second
    edges = np.append(track.time_s[steps], track.time_s[last] + track.step_s) - 0.5 * track.step_s
    return float(np.interp(0.5 * before[-1], before, edges))


def _evidence(track: PadTrack, steps: np.ndarray, lowest: int, width: int) -> Floats:
    """Log odds, up to a constant, that the pass was broken off at each of these steps."""
    first = max(int(steps[0]) - width, 0)
    near, own = slice(first, int(steps[-1]) + width + 1), steps - first  # all that the means reach
    air_east, air_north = track.air_east_mps[near], track.air_north_mps[near]
    heading = np.unwrap(np.arctan2(air_east, air_north))
    final = len(heading) - 1
    before, after = heading[np.maximum(own - width, 0)], heading[np.minimum(own + width, final)]
    turned_more = np.abs(after - heading[own]) - np.abs(heading[own] - before)
    nearest = int(steps[0]) + int(np.argmin(track.aim_m[steps[0] : max(lowest, int(steps[0])) + 1]))
    lead_s = (lowest - steps) * track.step_s
    evidence: Floats = (
        CLIMB_WEIGHT * np.clip(_rise(track.climb_mps[near], own, width), -2.0, 3.0)
        + SPEED_WEIGHT * np.clip(_rise(lengths(air_east, air_north), own, width), -2.0, 3.0)
        + TURN_WEIGHT * np.clip(turned_more, -1.0, 1.0)
        + SINK_WEIGHT * np.clip(-track.climb_mps[steps], -1.0, 3.0)
        + HEIGHT_WEIGHT * np.clip(track.height_m[steps], 0.0, 40.0)
        + PASSED_WEIGHT * (steps > nearest)
        + LEAD_WEIGHTS_PER_S[0] * lead_s
        + LEAD_WEIGHTS_PER_S[1] * lead_s**2
    )
    return evidence


def _rise(values: Floats, steps: np.ndarray, width: int) -> Floats:
    """At each step the mean over the `width` values from it on, less the mean over those before it."""
    sums = np.concatenate([[0.0], np.cumsum(values)])
    before, after = np.maximum(steps - width, 0), np.minimum(steps + width, len(values))
    rise: Floats = (sums[after] - sums[steps]) / (after - steps) - (sums[steps] - sums[before]) / (steps - before)
    return rise
