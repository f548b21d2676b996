"""The wind at a launch or landing: what the flight met near it in time, taken down to the ground."""

from __future__ import annotations

import math

import numpy as np

from flightlog.air.air import Air
from flightlog.estimates import Estimate, normal_estimate
from flightlog.motion.motion import Motion

GROUND_WIND_SD_MPS = 0.7
"""How far the wind of the lowest metres differs from that flown in the minute beside it (M 2: 1 m/s in all)."""


def wind_near_ground(motion: Motion, air: Air, start_s: float, end_s: float) -> tuple[float, float, float] | None:
    """Wind that the flight met between two times, as it may be at the ground; None where the log does not tell.

    Parameters
    ----------
    motion, air
        Of the whole log.
    start_s, end_s : float
        UTC seconds.

    Returns
    -------
    tuple of three
        East and north (where the air goes) and the standard deviation of one component, m/s. The mean of the fixes
        between the two times, unchanged by height: no log tells the shear of the last metres.
    """
    low, high = np.searchsorted(motion.time_s, [start_s, end_s])
    known = np.flatnonzero(np.isfinite(air.wind_east_mps[low:high])) + low
    if len(known) == 0:
        return None
    east, north = float(air.wind_east_mps[known].mean()), float(air.wind_north_mps[known].mean())
    return east, north, math.hypot(float(air.wind_sd_mps[known].mean()), GROUND_WIND_SD_MPS)


def headwind_estimate(
    motion: Motion, air: Air, start_s: float, end_s: float, course_rad: float
) -> Estimate | None:
    """Wind against a course (radians, clockwise from north) near the ground; None where it is not known."""
    wind = wind_near_ground(motion, air, start_s, end_s)
    if wind is None:
        return None
    east, north, sd = wind
    return normal_estimate(0.0 - east * math.sin(course_rad) - north * math.cos(course_rad), sd)
