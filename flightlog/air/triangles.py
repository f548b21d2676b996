"""The wind triangle: ground velocity is velocity through the air plus wind.

Winds are given as the direction they blow FROM and their speed; angles are degrees true, clockwise from north. All
functions take scalars or arrays.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from flightlog.arrays import Floats, lengths


def vector(direction_deg: npt.ArrayLike, speed_mps: npt.ArrayLike) -> tuple[Floats, Floats]:
    """East and north parts of a movement towards this direction."""
    angle = np.radians(np.asarray(direction_deg, dtype=np.float64))
    speed = np.asarray(speed_mps, dtype=np.float64)
    return np.asarray(speed * np.sin(angle)), np.asarray(speed * np.cos(angle))


def direction_deg(east: npt.ArrayLike, north: npt.ArrayLike) -> Floats:
    """Direction a vector points to, in [0, 360)."""
    return np.asarray(np.degrees(np.arctan2(east, north)) % 360.0)


def ground_track(
    heading_deg: npt.ArrayLike,
    airspeed_mps: npt.ArrayLike,
    wind_from_deg: npt.ArrayLike,
    wind_mps: npt.ArrayLike,
) -> tuple[Floats, Floats]:
    """Course over the ground (degrees) and ground speed of a wing on this heading in this wind."""
    air_east, air_north = vector(heading_deg, airspeed_mps)
    wind_east, wind_north = vector(wind_from_deg, -np.asarray(wind_mps, dtype=np.float64))
    east, north = air_east + wind_east, air_north + wind_north
    return direction_deg(east, north), lengths(east, north)


def wind_from_tracks(
    course_deg: npt.ArrayLike,
    ground_speed_mps: npt.ArrayLike,
    heading_deg: npt.ArrayLike,
    airspeed_mps: npt.ArrayLike,
) -> tuple[Floats, Floats]:
    """Direction the wind comes from and its speed, from movement over the ground and through the air."""
    ground_east, ground_north = vector(course_deg, ground_speed_mps)
    air_east, air_north = vector(heading_deg, airspeed_mps)
    east, north = ground_east - air_east, ground_north - air_north
    return direction_deg(-east, -north), lengths(east, north)


def heading_to_hold(
    course_deg: npt.ArrayLike,
    airspeed_mps: npt.ArrayLike,
    wind_from_deg: npt.ArrayLike,
    wind_mps: npt.ArrayLike,
) -> tuple[Floats, Floats, Floats]:
    """Crab angle, heading (degrees) and ground speed that hold a course in this wind.

    The crab angle is positive to the right. Where the crosswind exceeds the airspeed no heading holds the course:
    NaN. A negative ground speed means the wing is blown backwards along its course.
    """
    angle = np.radians(np.asarray(wind_from_deg, dtype=np.float64) - np.asarray(course_deg, dtype=np.float64))
    airspeed = np.asarray(airspeed_mps, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        crab = np.arcsin(np.asarray(wind_mps, dtype=np.float64) * np.sin(angle) / airspeed)
    ground_speed = airspeed * np.cos(crab) - np.asarray(wind_mps, dtype=np.float64) * np.cos(angle)
    heading = (np.asarray(course_deg, dtype=np.float64) + np.degrees(crab)) % 360.0
    return np.asarray(np.degrees(crab)), np.asarray(heading), np.asarray(ground_speed)
