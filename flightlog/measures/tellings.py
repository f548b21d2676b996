"""How telling a fact of a flight is: its stake times how clear it is.

The stake is the share of the flight that it moves: time lost or won over the time of the flight, a change of the
wind over the airspeed, and so on, so that unlike things can be put in one order. Clear is 0 while the 95 %
interval holds the value that would say nothing (no wind, no cost, a well centred circle), 0.5 where it just leaves
it out, and 1 from twice that far on. Both are this project's own convention: they choose what is said first, and
are shown to nobody.
"""

from __future__ import annotations

from flightlog.estimates import Estimate
from flightlog.measures.results import Flight

PLAIN = 0.0
"""A fact that is told only where nothing more telling fills the room."""
LEAST_TELLING = 0.01
"""A hundredth of the flight, quite clear: less is left to the tables."""


def clearness(figure: Estimate, against: float = 0.0) -> float:
    """How clear of a value an estimate is: 0 where its interval holds it, then 0.5 at the edge up to 1.

    >>> [clearness(Estimate(value, value - 2.0, value + 2.0)) for value in (1.0, 2.0, -3.0, -9.0)]
    [0.0, 0.5, 0.75, 1.0]
    """
    off = figure.value - against
    half = figure.value - figure.low if off > 0 else figure.high - figure.value
    if abs(off) < half or off == 0.0:
        return 0.0
    return 1.0 if half <= 0.0 else min(abs(off) / half / 2.0, 1.0)


def share_of(seconds_s: float, flight: Flight) -> float:
    """Time as a share of the flight."""
    return seconds_s / max(flight.duration_s, 1.0)
