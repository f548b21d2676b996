"""The best distances of a flight: the results classes, in the field names of the published JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime


@dataclass(frozen=True)
class TurnPoint:
    """A recorded fix used as start, turnpoint or finish."""

    time: datetime
    lat_deg: float
    lon_deg: float


@dataclass(frozen=True)
class BestCourse:
    """The best course of its kind, and what is certain about it.

    `distance_m` is the length over `points` on the WGS 84 ellipsoid; of a triangle `points` are its three corners,
    the way back to the first included. No course of that kind in this flight is longer than `bound_m`, which is
    `gap_m` more; a gap of centimetres is the slack of the search, more is what the time limit left open. Closed
    courses have the `start` and the `finish` that close them, `closing_m` apart.
    """

    distance_m: float
    points: tuple[TurnPoint, ...]
    bound_m: float
    gap_m: float
    is_proved: bool  # the search came to its end
    start: TurnPoint | None = None
    finish: TurnPoint | None = None
    closing_m: float | None = None


@dataclass(frozen=True)
class FlightDistances:
    """The best distances of one flight, from lift-off to touchdown; None: no course of that kind was flown."""

    number: int
    open_m: BestCourse | None
    free_3_turnpoints_m: BestCourse | None
    out_and_return_m: BestCourse | None
    triangle_m: BestCourse | None
    fai_triangle_m: BestCourse | None
    notes: tuple[str, ...] = ()  # why a course is None, where the search did not come to its end


@dataclass(frozen=True)
class DistanceRules:
    """What counts as what, in words and figures; the same for all flights of a call."""

    closing: str
    closing_share: float | None
    closing_limit_m: float | None
    fai_leg_share: float
    earth: str
    definitions: tuple[str, ...]
