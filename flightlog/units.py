"""SI to what a pilot reads, and back; the only place where such factors stand."""

from __future__ import annotations

KNOT_MPS = 1852.0 / 3600.0
"""One knot, m/s (exact: the international nautical mile is 1852 m)."""
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
