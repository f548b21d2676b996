"""How far the mean circle of a climb may be off: 95 % intervals of its period, its radius and its bank."""

from __future__ import annotations

import math
from dataclasses import dataclass

from flightlog.air.circles_flown import CirclesFlown
from flightlog.estimates import NORMAL_95, Estimate

LEAST_TURNS = 0.75
"""A stretch with circles holds no less of one (`LEAST_TURNED_DEG`)."""
AIRSPEED_SHARE, GUSTS_SHARE = 0.006, 0.02
"""Error of the mean airspeed: what is left over many circles, and of gusts and changes of speed in one circle."""
UNBALANCED_SHARE = 0.6
"""Of the wind's error over one circle. Round full circles it adds as much airspeed as it takes; of the part of a
circle too many, and of one side flown more slowly than the other, so much of it stays, divided by the turns."""
END_TURNS, BREAK_TURNS, ASIDE_SHARE = 0.085, 0.15, 0.27
"""In turns: where circling begins and ends is no sharper; nor is it for each break within it; and of what the
climb flew aside from its circles, up to a turn, so much may have been one of them."""
TURN_SHARE = 0.009
"""Error of the mean turn rate over many circles: of parts of circles that were hardly turned."""
RADIUS_LAG_SHARE, PULL_LAG_SHARE = 0.018, 0.045
"""Where the bank wanders between fixes the chord is no even arc's: error at one radian between a fix and the
middle of its step, growing with the third power. Airspeed and turn rate both come out low then, so that the
radius, their ratio, suffers less than the pull, their product."""
GREATEST_HALF_ANGLE_RAD = math.pi / 2.0
"""As in `uneven_turn_sd_mps`: beyond, a chord tells nothing more."""


@dataclass(frozen=True)
class CircleIntervals:
    """Intervals of the mean circle; None where the figure itself is not known."""

    period_s: Estimate | None = None
    radius_m: Estimate | None = None
    bank_deg: Estimate | None = None


def circle_intervals(circles: CirclesFlown, wind_sd_mps: float | None, interval_s: float) -> CircleIntervals:
    """How far period, radius through the air and bank of the circles of a stretch may be off.

    Parameters
    ----------
    circles : CirclesFlown
        The circles, with their airspeed.
    wind_sd_mps : float or None
        Standard deviation of one component of the wind they were flown in; None: not known.
    interval_s : float
        Time between fixes.

    Returns
    -------
    CircleIntervals
        Radius V / w and pull V w (tan bank = V w / g) of airspeed V and turn rate w, each taken as log-normal. The
        wind's error shifts the airspeed the same way on one side of every circle and the other way on the opposite
        side; to first order only what is no full circle is left of it. Most of the error is that of the turn rate:
        which seconds belong to the circling is known to a small part of a turn at either end.

    Notes
    -----
    The shares are from simulated flights of this project and of two simulators by others (1415 climbs together),
    by the circling of the truth: where the turn over one circle's time around is half a turn or more. Of each set
    of flights 0.93 to 0.99 of the intervals held it; of the banks of climbs broken twice or more, and of those in
    circles of less than 13 s with fixes 5 s apart, 0.91.
    """
    if circles.period_s is None:
        return CircleIntervals()
    turns = max(circles.turns, LEAST_TURNS)
    aside = min(circles.aside_s / circles.period_s, 1.0)
    unsure = END_TURNS + BREAK_TURNS * max(circles.turnings - 1, 0) + ASIDE_SHARE * aside
    rate_sd = math.hypot(unsure / turns, TURN_SHARE)
    half_rad = min(math.pi * interval_s / circles.period_s, GREATEST_HALF_ANGLE_RAD)
    lag = half_rad**3
    period = _spread(circles.period_s, math.hypot(rate_sd, RADIUS_LAG_SHARE * lag))
    if circles.airspeed_mps is None or circles.radius_m is None or circles.bank_deg is None:
        return CircleIntervals(period)
    of_wind = UNBALANCED_SHARE * (wind_sd_mps or 0.0) / (circles.airspeed_mps * turns)
    both_sd = math.hypot(AIRSPEED_SHARE, GUSTS_SHARE / math.sqrt(turns), of_wind, rate_sd)
    pull = _spread(math.tan(math.radians(circles.bank_deg)), math.hypot(both_sd, PULL_LAG_SHARE * lag))
    low, high = (math.degrees(math.atan(value)) for value in (pull.low, pull.high))
    return CircleIntervals(
        period_s=period,
        radius_m=_spread(circles.radius_m, math.hypot(both_sd, RADIUS_LAG_SHARE * lag)),
        bank_deg=Estimate(circles.bank_deg, min(low, circles.bank_deg), max(high, circles.bank_deg)),
    )


def _spread(value: float, sd_share: float) -> Estimate:
    """An estimate with an error as a share of itself, log-normal.

    >>> _spread(20.0, 0.0)
    Estimate(value=20.0, low=20.0, high=20.0)
    """
    factor = math.exp(NORMAL_95 * sd_share)
    return Estimate(value, value / factor, value * factor)
