"""The flight in six figures, and its phases as published."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache

import numpy as np

from flightlog.arrays import Floats
from flightlog.estimates import known
from flightlog.measures.results import PhaseRow
from flightlog.motion.interpolation import altitudes_at
from flightlog.motion.motion import Motion
from flightlog.phases.phases import FlightSpan

MEAN_OVER_S = 5.0
"""Highest climb and sink are means over so long: shorter ones are gusts and sensor noise."""
HALF = 0.5 + 1e-4
"""Half a step of the clock, and what seconds since 1970 lose in binary digits."""


@dataclass(frozen=True)
class Overview:
    """Duration, path, heights and the strongest climb and sink of one flight.

    `altitude_gain_m` is the FAI's gain of height: the largest rise from a low point to a later high point.
    """

    duration_s: float
    track_length_m: float
    altitude_gain_m: float | None
    max_altitude_m: float | None
    max_climb_mps: float | None
    max_sink_mps: float | None


def instant(time_s: float, motion: Motion) -> datetime:
    """UTC time, to the second, or to the tenth where the recorder is faster than that.

    Parameters
    ----------
    time_s : float
        Seconds since 1970-01-01 UTC.
    motion : Motion
        Its `interval_s` tells how fine the recorder's clock is.
    """
    # halves always go up: rounded to even, a flight a second later would not have all its times a second later
    if motion.interval_s < 1.0:
        return datetime.fromtimestamp(round(math.floor(time_s / 0.1 + HALF) * 0.1, 1), tz=UTC)
    return _whole_second(math.floor(time_s + HALF))


@lru_cache(maxsize=2000)  # where one phase ends, the next starts
def _whole_second(time_s: int) -> datetime:
    """UTC time of a whole second since 1970."""
    return datetime.fromtimestamp(time_s, tz=UTC)


def measure_overview(motion: Motion, span: FlightSpan, way_m: Floats) -> Overview:
    """Duration, track length, gain, highest point, strongest 5 s climb and sink of a flight.

    The track length is the way over the ground from lift-off to touchdown, `way_m` from `ground_way_m`, straight
    across gaps. The strongest climb and sink are None for a flight too short to hold a 5 s mean free of gaps; at
    3-5 s between fixes both read low by 0.1-0.2 m/s, as gusts in between leave no trace (simulated flights).

    References
    ----------
    FAI Sporting Code Section 3, chapter 1: gain of height (definition from memory).
    """
    first = int(motion.time_s.searchsorted(span.liftoff_s))
    altitude = motion.altitude_m[first : int(motion.time_s.searchsorted(span.touchdown_s, side="right"))]
    flown_m = np.concatenate([[0.0], np.cumsum(way_m)])
    start_m, end_m = np.interp([span.liftoff_s, span.touchdown_s], motion.time_s, flown_m)
    climb = _five_second_means(motion, span)
    return Overview(
        duration_s=span.touchdown_s - span.liftoff_s,
        track_length_m=float(end_m - start_m),
        altitude_gain_m=known(float(np.max(altitude - np.minimum.accumulate(altitude)))),
        max_altitude_m=known(float(altitude.max())),
        max_climb_mps=float(climb.max()) if len(climb) else None,
        max_sink_mps=float(-climb.min()) if len(climb) else None,
    )


def _five_second_means(motion: Motion, span: FlightSpan) -> Floats:
    """Mean climb over every 5 s of the flight, gaps left out."""
    starts = np.arange(span.liftoff_s, span.touchdown_s - MEAN_OVER_S, 1.0)
    if len(starts) == 0:
        return np.empty(0)
    later = int(MEAN_OVER_S)  # seconds, and so many steps
    every = starts[0] + np.arange(len(starts) + later)
    altitude = altitudes_at(motion, every)
    rise = altitude[later:] - altitude[:-later]
    told = np.isfinite(rise)
    if motion.piece[0] != motion.piece[-1]:
        piece = np.interp(every, motion.time_s, motion.piece)
        told &= piece[later:] == piece[:-later]
    means: Floats = rise[told] / MEAN_OVER_S
    return means


def phase_rows(span: FlightSpan, motion: Motion) -> tuple[PhaseRow, ...]:
    """The phases of a flight with clock times; one shorter than the clock's step has no place between them."""
    rows = (
        PhaseRow(phase.kind, phase.mode, instant(phase.start_s, motion), instant(phase.end_s, motion))
        for phase in span.phases
    )
    return tuple(row for row in rows if row.start < row.end)
