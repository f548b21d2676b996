"""Chords of the track: mean ground velocities over a few seconds, the raw material of every wind estimate.

A chord joins two recorded fixes some 3.5 s apart. Unlike a smoothed velocity it has no bias that depends on the
smoother: with a constant turn rate it is exactly wind plus airspeed shrunk by sin(x)/x, x = half the angle turned.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from flightlog.arrays import Floats, Ints, middle
from flightlog.motion.motion import Motion
from flightlog.settings import Settings

CONVERGENCE_NODES = 200


@dataclass(frozen=True, eq=False)
class Chords:
    """Ground velocities over short stretches, in order of time: c of them, overlapping."""

    start: Ints  # (c,) fix (index into Motion) the chord starts at, ascending
    stop: Ints  # (c,) fix it ends at, ascending
    mid_s: Floats  # (c,) middle of its time
    baseline_s: Floats  # (c,)
    east_mps: Floats  # (c,) true directions
    north_mps: Floats  # (c,)


def find_chords(motion: Motion, settings: Settings) -> Chords:
    """Chords over about `chord_baseline_s`, one from each fix, at most one a second.

    Recorders slower than the baseline give chords between neighbouring fixes, as long as `longest_chord_s` allows:
    beyond it a circle would have too few of them, and none are returned.
    """
    fixes = _thinned(motion, settings.densest_chords_s)
    time = motion.time_s[fixes]
    interval = max(motion.interval_s, settings.densest_chords_s if len(fixes) < motion.time_s.size else 0.0)
    steps = max(1, int(settings.chord_baseline_s / interval + 0.5))
    wanted_s = (steps - 0.25) * interval
    stop = _first_not_before(time, time + wanted_s, steps)
    inside = np.flatnonzero(stop < len(time))
    start, stop = fixes[inside], fixes[stop[inside]]
    baseline = motion.time_s[stop] - motion.time_s[start]
    longest = min(settings.longest_chord_s, 1.6 * steps * interval)
    good = (motion.piece[start] == motion.piece[stop]) & (baseline <= longest)
    east = (motion.measured_east_m[stop] - motion.measured_east_m[start]) / baseline
    north = (motion.measured_north_m[stop] - motion.measured_north_m[start]) / baseline
    kept = np.flatnonzero(good & np.isfinite(east) & np.isfinite(north))
    start, stop = start[kept], stop[kept]
    baseline, east, north = baseline[kept], east[kept], north[kept]
    tangent = np.tan(0.5 * _convergence_rad(motion)[start])  # of half the angle: cosine and sine follow from it
    square = tangent * tangent
    cosine, sine = (1.0 - square) / (1.0 + square), 2.0 * tangent / (1.0 + square)
    return Chords(
        start=start,
        stop=stop,
        mid_s=(motion.time_s[start] + motion.time_s[stop]) / 2.0,
        baseline_s=baseline,
        east_mps=east * cosine + north * sine,
        north_mps=north * cosine - east * sine,
    )


def _first_not_before(time_s: Floats, wanted_s: Floats, usual: int) -> Ints:
    """For each time wanted, the first fix not before it, as `np.searchsorted` finds it.

    Looked up at once where it lies the usual number of fixes on; only the others, at gaps, are searched for.
    """
    count = len(time_s)
    stop = np.arange(count) + usual
    at = np.minimum(stop, count - 1)
    odd = np.flatnonzero((stop >= count) | (time_s[at] < wanted_s) | (time_s[at - 1] >= wanted_s))
    stop[odd] = np.searchsorted(time_s, wanted_s[odd])
    return stop


def thinned(chords: Chords, step_s: float) -> Chords:
    """Chords at least this far apart in time, where they lie closer; long windows need no more."""
    if chords.mid_s.size < 2 or middle(chords.mid_s[1:] - chords.mid_s[:-1]) >= step_s:
        return chords
    number = np.floor((chords.mid_s - chords.mid_s[0]) / step_s)
    kept = np.flatnonzero(np.diff(number, prepend=-1.0) > 0)
    return Chords(
        start=chords.start[kept],
        stop=chords.stop[kept],
        mid_s=chords.mid_s[kept],
        baseline_s=chords.baseline_s[kept],
        east_mps=chords.east_mps[kept],
        north_mps=chords.north_mps[kept],
    )


def _thinned(motion: Motion, densest_s: float) -> Ints:
    """Fixes to use: all of them, or the first of every second where the recorder is faster."""
    if motion.interval_s >= 0.75 * densest_s:
        return np.arange(motion.time_s.size)
    second = np.floor((motion.time_s - motion.time_s[0]) / densest_s)
    return np.flatnonzero(np.diff(second, prepend=-1.0) > 0)


def _convergence_rad(motion: Motion) -> Floats:
    """Angle from true north to the plane's north at each fix; interpolated, it changes by 1 degree in 100 km."""
    n = motion.time_s.size
    node = np.unique(np.linspace(0, n - 1, min(n, CONVERGENCE_NODES)).astype(np.int64))
    angle = np.radians(motion.plane.convergence_at_deg(motion.east_m[node], motion.north_m[node]))
    return np.interp(np.arange(n), node, np.where(np.isfinite(angle), angle, 0.0))
