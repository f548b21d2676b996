"""SI to what a pilot reads, and back; the only place where such factors stand."""

from __future__ import annotations

KNOT_MPS = 1852.0 / 3600.0
"""One knot, m/s (exact: the international nautical mile is 1852 m)."""
NAUTICAL_MILE_M = 1852.0
"""One international nautical mile, m (exact)."""
FOOT_M = 0.3048
"""One foot, m (exact)."""
KMH_MPS = 1.0 / 3.6
"""One kilometre an hour, m/s (exact)."""
POUND_KG = 0.45359237
"""One avoirdupois pound, kg (exact)."""


def mps_to_kmh(speed_mps: float) -> float:
    """Speed in kilometres an hour.

    >>> mps_to_kmh(10.0)
    36.0
    """
    return speed_mps / KMH_MPS


def mps_to_knots(speed_mps: float) -> float:
    """Speed in knots.

    >>> round(mps_to_knots(463.0), 6)
    900.0
    """
    return speed_mps / KNOT_MPS


def mps_to_feet_per_minute(speed_mps: float) -> float:
    """Vertical speed in feet a minute.

    >>> mps_to_feet_per_minute(0.3048)
    60.0
    """
    return speed_mps / FOOT_M * 60.0


def metres_to_feet(height_m: float) -> float:
    """Height in feet.

    >>> metres_to_feet(304.8)
    1000.0
    """
    return height_m / FOOT_M


def metres_to_nautical_miles(distance_m: float) -> float:
    """Distance in nautical miles.

    >>> metres_to_nautical_miles(9260.0)
    5.0
    """
    return distance_m / NAUTICAL_MILE_M


def metres_to_kilometres(distance_m: float) -> float:
    """Distance in kilometres.

    >>> metres_to_kilometres(2500.0)
    2.5
    """
    return distance_m / 1000.0
