"""The climb that won back the height of a glide: the goal of the theory of the speed to fly."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from flightlog.measures.results import Climb, Glide

LEAST_CLIMB_MPS = 0.1
"""A climb that gained less was no goal to hurry to: the theory would ask for a share of an hour."""
WON_BACK_SHARE = 1.0 / 3.0
"""Climbs that won back less of a glide's height did not win it back (no source: the theory knows climbs to the old
height only)."""
_SETTLED = timedelta(seconds=1.5)
SEVERAL = "the climb that followed won back less than a third of the height: the next ones are counted in"
NOT_WON_BACK = "less than a third of the height was won back"
NEXT_TO_NOTHING = "the climb that followed gained next to nothing"


@dataclass(frozen=True)
class ClimbToCome:
    """How the height of a glide was won back: at this rate, or not at all; `remark` where that is not plain."""

    climb_mps: float | None
    won_back: bool
    remark: str | None = None


def climb_to_come(glide: Glide, climbs: Sequence[Climb]) -> ClimbToCome:
    """The climb that followed; while less than `WON_BACK_SHARE` of the height is won back, those after it too.

    The theory wins the height of a glide back at the rate of the climb to come. A climb broken off after a tenth
    of it was no such climb: on two real days glides before climbs that won back less than a third made 0.44 and
    0.63 of the time that speeds seemed to cost. Of several climbs the rate is the gain of all over the time of
    all; ones that gained next to nothing are passed over.
    """
    lost_m = WON_BACK_SHARE * (glide.height_lost_m or 0.0)
    gained_m = taken_s = 0.0
    first_mps: float | None = None
    number = 0
    for climb in climbs:
        if climb.mean_climb_mps is None or climb.gain_m is None or climb.start < glide.end - _SETTLED:
            continue
        rate_mps = climb.mean_climb_mps.value
        first_mps = rate_mps if first_mps is None else first_mps
        if rate_mps < LEAST_CLIMB_MPS:
            continue
        number += 1
        gained_m, taken_s = gained_m + climb.gain_m, taken_s + climb.gain_m / rate_mps
        if gained_m >= lost_m:
            return ClimbToCome(rate_mps, True) if number == 1 else ClimbToCome(gained_m / taken_s, True, SEVERAL)
    if number:
        return ClimbToCome(gained_m / taken_s, False, NOT_WON_BACK)
    return ClimbToCome(first_mps, False, None if first_mps is None else NEXT_TO_NOTHING)
