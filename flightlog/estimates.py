"""A figure with its 95 % interval, and the wind: the two shapes that every layer shares."""

from __future__ import annotations

import math
from dataclasses import dataclass

NORMAL_95 = 1.959963984540054
"""Half width of the central 95 % of a normal distribution, in standard deviations."""


@dataclass(frozen=True)
class Estimate:
    """Best value and 95 % interval; `low <= value <= high`, in the unit of the field that holds it."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Wind:
    """A wind: where it blows from (true), its speed, its vector (where it blows to) and its standard error.

    `se_mps` is the standard error of one vector component; `circles` the full circles it was drawn from.
    """

    from_deg: float
    speed_mps: float
    east_mps: float
    north_mps: float
    se_mps: float
    circles: float


def normal_estimate(value: float, sd: float) -> Estimate:
    """Estimate from a best value and a standard deviation, taken as normal.

    >>> normal_estimate(2.0, 0.5)
    Estimate(value=2.0, low=1.020018007729973, high=2.979981992270027)
    """
    return Estimate(value, value - NORMAL_95 * sd, value + NORMAL_95 * sd)


def known(value: float) -> float | None:
    """The value, or None where it is not a number: results hold no NaN.

    >>> known(1.5), known(float("nan"))
    (1.5, None)
    """
    return value if math.isfinite(value) else None


def known_estimate(value: float, sd: float) -> Estimate | None:
    """`normal_estimate`, or None where the value is not known."""
    return normal_estimate(value, sd) if math.isfinite(value) and math.isfinite(sd) else None


def wind_from_vector(east_mps: float, north_mps: float, se_mps: float, circles: float) -> Wind:
    """Wind from the vector in which the air moves.

    >>> wind_from_vector(3.0, 0.0, 0.4, 5).from_deg
    270.0
    """
    from_deg = math.degrees(math.atan2(-east_mps, -north_mps)) % 360.0
    return Wind(from_deg, math.hypot(east_mps, north_mps), east_mps, north_mps, se_mps, circles)
