"""Where the approach to a landing begins: the last descent, manoeuvring near the landing place."""

from __future__ import annotations

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Floats, lengths
from flightlog.motion.motion import Motion
from flightlog.phases.grid import FlightGrid, flight_grid
from flightlog.phases.phases import FlightSpan
from flightlog.settings import Settings


def landing_approach_start_s(motion: Motion, air: Air, span: FlightSpan, settings: Settings) -> float | None:
    """Start of the last descent to the landing, UTC seconds; None where the log ends in the air.

    The latest of three moments: when the pilot came within `approach_radius_m` of the touchdown, or of where the
    straight final to it began, and below `approach_height_m` above it (who arrives high and works the height off
    there is still losing height), not to leave again further than `approach_circuit_m` (a long downwind leg or the
    end of an eight is no new arrival); a final is straight and low (`approach_final_detour`,
    `approach_final_height_m`). When the last descent began: a rise of more than `approach_regain_m` begins a new
    one; level flight at its top, within `approach_level_m`, is no descent yet. And `approach_longest_s` before
    touchdown, but at the latest `approach_least_s` before it: over a rising slope the last seconds may lead up.
    """
    if span.ends_in_air or span.touchdown_s - span.liftoff_s < 2.0:
        return None
    start_s = max(span.liftoff_s, span.touchdown_s - settings.approach_longest_s)
    grid = flight_grid(motion, air, start_s, span.touchdown_s)
    first = max(_arrival(grid, settings), _last_descent(grid, settings))
    latest = max(grid.time_s.size - 1 - grid.steps(settings.approach_least_s), 0)
    return float(grid.time_s[min(first, latest)])


def _arrival(grid: FlightGrid, settings: Settings) -> int:
    """The step at which the pilot came near the touchdown point, low, to stay about it."""
    distance_m = _off_final_m(grid, settings)
    high = grid.altitude_m - grid.altitude_m[-1] > settings.approach_height_m
    away = np.flatnonzero(high | (distance_m > settings.approach_circuit_m))
    about = int(away[-1]) + 1 if away.size else 0
    return about + int(np.argmax(distance_m[about:] <= settings.approach_radius_m))


def _off_final_m(grid: FlightGrid, settings: Settings) -> Floats:
    """Distance of every step from the final, the straight and low way to the touchdown: from either end of it, m.

    Of a wing that glides well it is long: 20 m up, a rigid wing is 300 m and more from its touchdown.
    """
    steps_m = lengths(np.diff(grid.east_m), np.diff(grid.north_m))
    to_fly_m = np.append(np.cumsum(steps_m[::-1])[::-1], 0.0)
    away_m = lengths(grid.east_m - grid.east_m[-1], grid.north_m - grid.north_m[-1])
    low = grid.altitude_m - grid.altitude_m[-1] <= settings.approach_final_height_m
    before = np.flatnonzero(~(low & (to_fly_m <= settings.approach_final_detour * away_m))[:-1])
    first = int(before[-1]) + 1 if before.size else 0
    if away_m[first] <= settings.approach_radius_m:
        return away_m
    off_m = np.minimum(away_m, lengths(grid.east_m - grid.east_m[first], grid.north_m - grid.north_m[first]))
    off_m[first:] = 0.0
    return np.asarray(off_m)


def _last_descent(grid: FlightGrid, settings: Settings) -> int:
    """The step from which the pilot went down for good."""
    altitude = grid.altitude_m
    highest_later = np.maximum.accumulate(altitude[::-1])[::-1]
    regained = np.flatnonzero(highest_later - altitude > settings.approach_regain_m)
    after = int(regained[-1]) + 1 if regained.size else 0
    top_m = float(altitude[after:].max())
    return after + int(np.flatnonzero(altitude[after:] >= top_m - settings.approach_level_m)[-1])
