"""Where the sun stands: enough to tell day from night."""

from __future__ import annotations

import numpy as np

from flightlog.arrays import Floats

_J2000_S = 946_728_000.0  # 2000-01-01 12:00 UTC, seconds since 1970
_DAY_S = 86400.0


def sun_elevation_deg(time_s: Floats, latitude_deg: Floats, longitude_deg: Floats) -> Floats:
    """Height of the sun's centre above the horizon, refraction left out; good to a tenth of a degree.

    References
    ----------
    Low-precision solar coordinates as in The Astronomical Almanac, section C (from memory).

    Examples
    --------
    >>> noon = sun_elevation_deg(np.array([1719057600.0]), np.array([23.44]), np.array([0.0]))
    >>> bool(noon[0] > 89.0)
    True
    """
    days = (time_s - _J2000_S) / _DAY_S
    mean_longitude = np.radians(280.460 + 0.9856474 * days)
    anomaly = np.radians(357.528 + 0.9856003 * days)
    ecliptic = mean_longitude + np.radians(1.915 * np.sin(anomaly) + 0.020 * np.sin(2 * anomaly))
    obliquity = np.radians(23.439 - 4e-7 * days)
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(ecliptic), np.cos(ecliptic))
    declination = np.arcsin(np.sin(obliquity) * np.sin(ecliptic))
    sidereal = np.radians(280.46062 + 360.98564737 * days + longitude_deg)
    hour_angle = sidereal - right_ascension
    latitude = np.radians(latitude_deg)
    sine = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour_angle)
    elevation: Floats = np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))
    return elevation
