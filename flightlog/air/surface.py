"""The wind at a launch or landing: what the flight met near it in time, taken down to the ground."""

from __future__ import annotations

import math

import numpy as np

from flightlog.air.air import Air
from flightlog.estimates import Estimate, normal_estimate
from flightlog.motion.motion import Motion

GROUND_WIND_SHARE = 0.85
"""Wind at the wing of a standing pilot over that flown in the minute beside it, some 45 m higher.

0.68 over flat ground by the power law with exponent 1/7 (Justus & Mikhail 1976), about 1 where a crest speeds it
up (Jackson & Hunt 1975; both from memory)."""
GROUND_WIND_SHARE_SD = 0.1
GROUND_WIND_SD_MPS = 0.45
"""How far the wind of those metres differs besides: gusts of the moment (M 2: 1 m/s in all)."""


def wind_near_ground(
    motion: Motion, air: Air, start_s: float, end_s: float, *, is_aloft: bool = False
) -> tuple[float, float, float] | None:
    """Wind that the flight met between two times, as it may be at the ground; None where the log does not tell.

    Parameters
    ----------
    motion, air
        Of the whole log.
    start_s, end_s : float
        UTC seconds.
    is_aloft : bool
        True: as it was flown, for an approach still in the air; False: slowed down as the ground does.

    Returns
    -------
    tuple of three
        East and north (where the air goes) and the standard deviation of one component, m/s. The mean of the fixes
        between the two times; no log tells the shear of the last metres, so its usual range widens the figure.
    """
    low, high = np.searchsorted(motion.time_s, [start_s, end_s])
    columns = [column[low:high] for column in (air.wind_east_mps, air.wind_north_mps, air.wind_sd_mps)]
    known = np.isfinite(columns[0])
    count = np.count_nonzero(known)
    if count == 0:
        return None
    if count < len(known):
        columns = [column[known] for column in columns]
    east, north, sd = (float(np.add.reduce(column) / count) for column in columns)
    if is_aloft:
        return east, north, math.hypot(sd, GROUND_WIND_SD_MPS)
    slowed = GROUND_WIND_SHARE_SD * math.hypot(east, north)
    sd = math.hypot(GROUND_WIND_SHARE * sd, GROUND_WIND_SD_MPS, slowed)
    return GROUND_WIND_SHARE * east, GROUND_WIND_SHARE * north, sd


def headwind_estimate(
    motion: Motion, air: Air, start_s: float, end_s: float, course_rad: float, *, is_aloft: bool = False
) -> Estimate | None:
    """Wind against a course (radians, clockwise from north) near the ground; None where it is not known."""
    wind = wind_near_ground(motion, air, start_s, end_s, is_aloft=is_aloft)
    if wind is None:
        return None
    east, north, sd = wind
    return normal_estimate(0.0 - east * math.sin(course_rad) - north * math.cos(course_rad), sd)
