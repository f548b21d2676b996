"""Where the approach to a landing begins: the last descent, manoeuvring near the landing place."""

from __future__ import annotations

import numpy as np

from flightlog.air.air import Air
from flightlog.motion.motion import Motion
from flightlog.phases.grid import FlightGrid, flight_grid
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings


def landing_approach_start_s(motion: Motion, air: Air, span: FlightSpan, settings: Settings) -> float | None:
    """Start of the last descent to the landing, UTC seconds; None where the log ends in the air.

    The latest of three moments: when the pilot last came within `approach_radius_m` of the touchdown point, when
    the last descent began (the last height of which no more than `approach_regain_m` was ever regained), and
    `approach_longest_s` before touchdown. A pilot who arrives high and works the height off over the landing
    place is on approach once below `approach_height_m`; one who soars there is not until the last descent.
    """
    if span.ends_in_air or span.touchdown_s - span.liftoff_s < 2.0:
        return None
    start_s = max(span.liftoff_s, span.touchdown_s - settings.approach_longest_s)
    grid = flight_grid(motion, air, start_s, span.touchdown_s)
    far = np.hypot(grid.east_m - grid.east_m[-1], grid.north_m - grid.north_m[-1]) > settings.approach_radius_m
    high = grid.altitude_m - grid.altitude_m[-1] > settings.approach_height_m
    outside = np.flatnonzero(far | high)
    arrived = int(outside[-1]) + 1 if outside.size else 0
    first = max(arrived, _last_descent(grid, settings.approach_regain_m))
    return float(grid.time_s[min(first, grid.time_s.size - 2)])


def _last_descent(grid: FlightGrid, regain_m: float) -> int:
    """The step from which the pilot went down for good: the top of the last rise of more than `regain_m`."""
    altitude = grid.altitude_m
    above_later = np.maximum.accumulate(altitude[::-1])[::-1]  # highest from here on
    regained = above_later - altitude > regain_m
    places = np.flatnonzero(regained)
    if places.size == 0:
        return int(np.argmax(altitude)) if altitude[0] < altitude.max() else 0
    after = int(places[-1]) + 1
    return after + int(np.argmax(altitude[after:]))
