"""Climbs seen from the air: circles moved back by the wind, so that they lie as the drifting air saw them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from flightlog.air.air import Air
from flightlog.arrays import Bools, Floats
from flightlog.measures.results import Climb
from flightlog.motion.motion import Motion

FEWEST_FIXES = 8
"""Fewer show no circle."""


@dataclass(frozen=True, eq=False)
class ClimbPlan:
    """The way through the air of one climb, n fixes, metres from its middle; no wind, no drift."""

    climb: Climb
    east_m: Floats  # (n,) from the middle of the way
    north_m: Floats  # (n,)
    is_strong: Bools  # (n,) climbing faster than this climb did on the whole


def climb_plans(motion: Motion, air: Air, climbs: Iterable[Climb]) -> tuple[ClimbPlan, ...]:
    """The way through the air of every climb in circles, as seen from above.

    Each fix is moved back by the way that the air has gone since the middle of the climb: the wind at the fixes,
    summed by trapezoids. A thermal that drifts with the wind stands still in this view; one that is fixed to the
    ground moves upwind. Climbs whose wind is not known throughout, and those with a gap, are left out.
    """
    plans = []
    for climb in climbs:
        if climb.mode != "circling":
            continue
        first, last = np.searchsorted(motion.time_s, [climb.start.timestamp(), climb.end.timestamp()])
        at = slice(int(first), int(last) + 1)
        time_s, rise_mps = motion.time_s[at], motion.climb_mps[at]
        wind = air.wind_east_mps[at], air.wind_north_mps[at]
        is_whole = len(time_s) >= FEWEST_FIXES and motion.piece[at][0] == motion.piece[at][-1]
        if not is_whole or not np.all(np.isfinite(wind)):
            continue
        east_m = _in_the_air(time_s, motion.east_m[at], wind[0])
        north_m = _in_the_air(time_s, motion.north_m[at], wind[1])
        plans.append(ClimbPlan(climb, east_m, north_m, rise_mps >= np.nanmean(rise_mps)))
    return tuple(plans)


def _in_the_air(time_s: Floats, place_m: Floats, wind_mps: Floats) -> Floats:
    """One coordinate without the way of the air, from its middle."""
    steps = np.diff(time_s) * (wind_mps[1:] + wind_mps[:-1]) / 2.0
    still = place_m - np.concatenate(([0.0], np.cumsum(steps)))
    centred: Floats = still - (still.max() + still.min()) / 2.0
    return centred
