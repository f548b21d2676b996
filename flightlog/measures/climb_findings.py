"""What of a flight's climbs is worth telling, and how telling it is (`tellings.py`)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from flightlog.estimates import Estimate
from flightlog.measures.results import Climb, Flight
from flightlog.measures.tellings import clearness, share_of

LEAST_CLIMBS_MATCHED = 2
"""With one climb there is nothing to hold it against."""
ALIKE = 0.3
"""Correlation of the errors of ways in and out: all ends of climbs are smoothed alike, and single ones are far off
now and then. With it 0.91 to 0.98 of the intervals of a flight held the sum (350 flights of three simulators)."""
LEAST_COST_M = 20.0
"""Of all the ways in and out of thermals together: less is within the errors of their heights."""


@dataclass(frozen=True)
class WeakClimbing:
    """Time in circles that climbed less than half as fast as the best half minute of its climb."""

    climbs: int
    weak_s: float
    circling_s: float
    telling: float


def weak_climbing(flight: Flight) -> WeakClimbing | None:
    """The weak part of all climbs in circles; at least half of its time is what it stakes."""
    known = [
        (_duration_s(climb), climb.detail.weak_s)
        for climb in flight.climbs
        if climb.detail is not None and climb.detail.weak_s is not None
    ]
    if not known:
        return None
    weak_s = sum(weak for _, weak in known)
    return WeakClimbing(len(known), weak_s, sum(whole for whole, _ in known), share_of(weak_s / 2.0, flight))


@dataclass(frozen=True)
class WaysInAndOut:
    """The entries and exits of all thermals together; `cost` is in metres."""

    climbs: int
    seconds_s: float
    cost: Estimate
    telling: float


def ways_in_and_out(flight: Flight) -> WaysInAndOut | None:
    """What entering and leaving thermals cost, as time at their own steady climb; None where that is little."""
    seconds, cost_s, count = 0.0, 0.0, 0
    losses: list[Estimate] = []
    for climb in flight.climbs:
        detail = climb.detail
        if detail is None or detail.steady_climb_mps is None or not detail.steady_climb_mps > 0.0:
            continue
        ways = [way for way in (detail.entry_loss_interval_m, detail.leaving_loss_interval_m) if way is not None]
        losses += ways
        seconds += (detail.entry_s or 0.0) + (detail.leaving_s or 0.0)
        cost_s += sum(way.value for way in ways) / detail.steady_climb_mps
        count += 1
    cost = _sum_of(losses)
    if cost.value < LEAST_COST_M:
        return None
    return WaysInAndOut(count, seconds, cost, clearness(cost) * share_of(cost_s, flight))


def _sum_of(parts: Sequence[Estimate]) -> Estimate:
    """The sum of estimates whose errors are alike in part."""
    value = sum(part.value for part in parts)
    down = _together([part.value - part.low for part in parts])
    return Estimate(value, value - down, value + _together([part.high - part.value for part in parts]))


def _together(errors: Sequence[float]) -> float:
    """How far a sum may be off: equally correlated errors."""
    apart, alike = math.hypot(*errors), sum(errors)
    return math.sqrt((1.0 - ALIKE) * apart**2 + ALIKE * alike**2)


@dataclass(frozen=True)
class OffCentre:
    """The climb in which circles off the core cost most time."""

    number: int
    centred_share: Estimate
    telling: float


def off_centre(flight: Flight) -> OffCentre | None:
    """The climb that lay furthest off its core, by the time lost; None where none surely did."""
    found = [
        OffCentre(
            climb.number,
            share,
            clearness(share, 1.0) * share_of(_duration_s(climb) * (1.0 - share.value), flight),
        )
        for climb in flight.climbs
        if climb.detail is not None and (share := climb.detail.centred_share) is not None and share.high < 1.0
    ]
    return max(found, key=lambda one: one.telling, default=None)


@dataclass(frozen=True)
class BestClimb:
    """The climb in circles that saved most time against the others, and how fast those were."""

    climb: Climb
    mean_climb_mps: Estimate
    others: int
    others_mps: float
    telling: float


def best_climb(flight: Flight) -> BestClimb | None:
    """The climb in circles that gave its height in so much less time than at the mean of all others in circles.

    Slopes are left out: who soars at one level does not mean to climb.
    """
    known = [
        (climb, climb.mean_climb_mps, climb.gain_m)
        for climb in flight.climbs
        if climb.mode == "circling" and climb.mean_climb_mps is not None and climb.gain_m is not None
    ]
    if len(known) < LEAST_CLIMBS_MATCHED:
        return None
    gain_m, time_s = sum(gain for _, _, gain in known), sum(_duration_s(climb) for climb, _, _ in known)
    found = []
    for climb, mean, gain in known:
        others = (gain_m - gain) / max(time_s - _duration_s(climb), 1.0)
        if others > 0.0:
            saved_s = gain / others - _duration_s(climb)
            stake = share_of(saved_s, flight) if saved_s > 0.0 else 0.0
            found.append(BestClimb(climb, mean, len(known) - 1, others, clearness(mean, others) * min(stake, 1.0)))
    best = max(found, key=lambda one: one.telling, default=None)
    return best if best is not None and best.telling > 0.0 else None


def _duration_s(item: Climb) -> float:
    """How long a climb took."""
    return (item.end - item.start).total_seconds()
