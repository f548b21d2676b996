"""Runs at the launch that were given up before lift-off, told apart from handling the wing."""

from __future__ import annotations

import math
from datetime import datetime

import numpy as np

from flightlog.arrays import Floats, lengths, zero_where_unknown
from flightlog.measures.overview import instant
from flightlog.measures.results import AbortedRun
from flightlog.motion.interpolation import moment_at, motion_at
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings

STEP_S = 0.5


def find_aborted_runs(
    motion: Motion, span: FlightSpan, earliest_s: float, direction: tuple[float, float], settings: Settings
) -> tuple[AbortedRun, ...] | None:
    """Runs given up near the launch before this flight, in order of time; None where the fixes are too far apart.

    Parameters
    ----------
    motion : Motion
        Of the whole log.
    span : FlightSpan
        The flight.
    earliest_s : float
        Touchdown of the flight before, or the start of the log, UTC seconds.
    direction : tuple of two
        East and north of the launch run, a unit vector: a run that is given up starts the same way.
    settings : Settings
        The thresholds whose names begin with `aborted_`.

    Returns
    -------
    tuple of AbortedRun
        A run speeds up from (nearly) standing to `aborted_least_mps` along the launch direction, covers
        `aborted_least_m` that way, hardly moves aside, and comes to a stop again, all of it as fast as
        `aborted_least_mps2` says: who handles a wing drifts to the same speed and back in twice the time.

    Notes
    -----
    Before 922 simulated launches at a fix every 1 or 2 s, 34 of 42 runs that reached 4 m/s or a little more are
    found, 39 of 78 to 3.5-4 m/s, and 12 of 146 slower ones, which look the same as handling the wing: smoothed,
    the top speed of so short a run is half gone. Before 6 launches handling was taken for a run. (Without the
    least acceleration: 100 of the 266 runs, and 48 that were none; with a least speed of 2.5 m/s instead,
    38 and 5.)
    """
    if motion.interval_s > settings.aborted_longest_interval_s:
        return None
    first = max(earliest_s + settings.aborted_margin_s, span.start_s - settings.aborted_search_s)
    times = np.arange(first, span.start_s - settings.aborted_margin_s, STEP_S)
    if len(times) < 8:
        return ()
    samples, here = motion_at(motion, times), moment_at(motion, span.start_s)
    away = lengths(samples.east_m - here.east_m, samples.north_m - here.north_m)
    near = np.isfinite(away) & (away <= settings.aborted_near_m)
    east, north = zero_where_unknown(samples.velocity_east_mps), zero_where_unknown(samples.velocity_north_mps)
    along = np.where(near, east * direction[0] + north * direction[1], 0.0)
    aside = np.where(near, east * direction[1] - north * direction[0], 0.0)
    runs = (_run_at(times, along, aside, peak, settings) for peak in _peaks(along, settings))
    return tuple(
        AbortedRun(_when(motion, start), end - start, length, top)
        for start, end, length, top in filter(None, runs)
    )


def _when(motion: Motion, time_s: float) -> datetime:
    """A published time."""
    return instant(time_s, motion)


def _peaks(along: Floats, settings: Settings) -> list[int]:
    """Step of the greatest speed of each stretch that is faster than a walk."""
    fast = along >= settings.aborted_least_mps
    edges = np.flatnonzero(np.diff(np.concatenate([[False], fast, [False]]).astype(np.int8)))
    return [int(a + np.argmax(along[a:b])) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _run_at(
    times: Floats, along: Floats, aside: Floats, peak: int, settings: Settings
) -> tuple[float, float, float, float] | None:
    """Start, end, length and top speed of the run around a peak of speed; None where it is none."""
    slow = along < settings.aborted_still_mps
    before, after = np.flatnonzero(slow[:peak]), np.flatnonzero(slow[peak:])
    if not len(before) or not len(after):
        return None
    start, end = int(before[-1]), peak + int(after[0])
    length = float(along[start : end + 1].sum() * STEP_S)
    drift = abs(float(aside[start : end + 1].sum() * STEP_S))
    seconds = float(times[end] - times[start])
    straight = drift <= math.tan(math.radians(settings.aborted_aside_deg)) * length
    top = float(along[peak])
    is_brisk = 2.0 * top >= settings.aborted_least_mps2 * seconds
    if length < settings.aborted_least_m or seconds > settings.longest_run_s or not (straight and is_brisk):
        return None
    return float(times[start]), float(times[end]), length, top
