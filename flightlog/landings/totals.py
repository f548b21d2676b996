"""What the tries at one place come to: go-arounds per landing, heights of decision, winds, heights on the way."""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from flightlog.estimates import Estimate
from flightlog.measures.pass_details import TO_GO_M
from flightlog.measures.rates import binomial_share, poisson_rate
from flightlog.measures.results import Pass
from flightlog.phases.counting import counted_with_interval


@dataclass(frozen=True)
class Spread:
    """Several figures of one kind: how many, their median, the ends of their range; in the unit of their key."""

    count: int
    median: float
    least: float
    greatest: float


@dataclass(frozen=True)
class HeightsAt:
    """Heights above a place with so much way to go: of the passes that landed, and of those broken off."""

    to_go_m: float
    landed_m: Spread | None
    broken_off_m: Spread | None


@dataclass(frozen=True)
class Try:
    """One pass as part of a landing: its figures, where it ended, and how long after the try before.

    `since_last_s` runs from the decision of the sure try before to this one's end; None for the first.
    """

    since_last_s: float | None
    end_lat_deg: float | None
    end_lon_deg: float | None
    figures: Pass


@dataclass(frozen=True)
class LandingRow:
    """One landing with the tries before it, or tries in vain at a place by a flight that ended elsewhere.

    `outcome` is `landed`, `landed_elsewhere` or `end_of_log`. `go_arounds` counts the sure ones; it is None at a
    place where passes are not looked for. `place` is a number of the review's list of places.
    """

    number: int
    file: str
    date: str | None
    flight: int
    place: int
    place_name: str
    outcome: str
    kind: str  # top_landing | landing | end_of_log: how the flight ended
    end: datetime  # of the flight
    lat_deg: float | None  # of the touchdown here
    lon_deg: float | None
    go_arounds: int | None
    possible_go_arounds: int | None
    tries: tuple[Try, ...]
    note: str | None = None
    go_arounds_interval: Estimate | None = None  # those counted, and 95 % interval, whole numbers


@dataclass(frozen=True)
class PlaceTotals:
    """What a season's tries at one place come to; a figure is None where there is nothing to tell it."""

    go_arounds: int | None
    possible_go_arounds: int | None
    tries_in_vain: int
    reviewed_landings: int  # landings at which passes were looked for
    go_arounds_per_landing: Estimate | None
    first_try_share: Estimate | None
    broken_off_share: Estimate | None  # of all sure tries, those in vain included
    decision_height_m: Spread | None
    decision_distance_m: Spread | None
    between_tries_s: Spread | None
    go_around_wind_mps: Spread | None
    go_around_wind_from_deg: float | None
    landing_wind_mps: Spread | None
    landing_wind_from_deg: float | None
    heights: tuple[HeightsAt, ...]
    note: str | None = None
    go_arounds_interval: Estimate | None = None  # those counted, and 95 % interval, whole numbers


def spread_of(values: Iterable[float | None]) -> Spread | None:
    """The spread of the figures that are known; None without any.

    >>> spread_of([3.0, None, 1.0])
    Spread(count=2, median=2.0, least=1.0, greatest=3.0)
    """
    known = [value for value in values if value is not None and math.isfinite(value)]
    return Spread(len(known), statistics.median(known), min(known), max(known)) if known else None


def mean_direction_deg(directions_deg: Iterable[float | None]) -> float | None:
    """Mean of directions, as vectors of one length; None without any, or where they cancel out.

    >>> mean_direction_deg([350.0, 10.0, None])
    0.0
    """
    known = [math.radians(angle) for angle in directions_deg if angle is not None]
    east, north = sum(map(math.sin, known)), sum(map(math.cos, known))
    if not known or math.hypot(east, north) < 0.1 * len(known):
        return None
    return round(math.degrees(math.atan2(east, north)) % 360.0, 6) % 360.0


def place_totals(rows: Sequence[LandingRow]) -> PlaceTotals:
    """The totals of the rows of one place.

    Go-arounds per landing counts every sure go-around, those of tries in vain too, over the landings at which
    passes were looked for; the exact Poisson interval takes them for independent of each other. The share that
    landed at the first try is that of the landings, the share broken off that of all tries, both with the score
    interval.
    """
    reviewed = [row for row in rows if row.go_arounds is not None]
    landed = [row for row in reviewed if row.outcome == "landed"]
    broken_off = [one for one in sure_passes(reviewed) if one.outcome == "go_around"]
    touched = [one for one in sure_passes(reviewed) if one.outcome == "landed"]
    count = sum(row.go_arounds or 0 for row in reviewed)
    first_tries = sum(row.go_arounds == 0 for row in landed)
    return PlaceTotals(
        go_arounds=count if reviewed else None,
        possible_go_arounds=sum(row.possible_go_arounds or 0 for row in reviewed) if reviewed else None,
        tries_in_vain=sum(row.outcome != "landed" for row in rows),
        reviewed_landings=len(landed),
        go_arounds_per_landing=poisson_rate(count, len(landed)),
        first_try_share=binomial_share(first_tries, len(landed)),
        broken_off_share=binomial_share(len(broken_off), len(broken_off) + len(touched)),
        decision_height_m=spread_of(one.decision.height_m for one in broken_off if one.decision),
        decision_distance_m=spread_of(one.decision.distance_m for one in broken_off if one.decision),
        between_tries_s=spread_of(one.since_last_s for row in reviewed for one in row.tries),
        go_around_wind_mps=spread_of(one.detail.wind_speed_mps for one in broken_off if one.detail),
        go_around_wind_from_deg=mean_direction_deg(one.detail.wind_from_deg for one in broken_off if one.detail),
        landing_wind_mps=spread_of(one.detail.wind_speed_mps for one in touched if one.detail),
        landing_wind_from_deg=mean_direction_deg(one.detail.wind_from_deg for one in touched if one.detail),
        heights=tuple(
            HeightsAt(to_go, _heights(touched, to_go), _heights(broken_off, to_go)) for to_go in TO_GO_M
        ),
        note=_note(rows, reviewed),
        go_arounds_interval=count_of(one for row in reviewed for one in row.tries) if reviewed else None,
    )


def count_of(tries: Iterable[Try]) -> Estimate:
    """The sure go-arounds among these tries, and the 95 % interval: each counts with its own probability."""
    broken = [one.figures for one in tries if one.figures.outcome == "go_around"]
    sure = [float(one.certainty == "sure") for one in broken]
    likely = (
        number if one.probability is None else one.probability for one, number in zip(broken, sure, strict=True)
    )
    return counted_with_interval(int(sum(sure)), likely)


def sure_passes(rows: Iterable[LandingRow]) -> list[Pass]:
    """The passes of these rows that were surely meant to land."""
    return [one.figures for row in rows for one in row.tries if one.figures.certainty == "sure"]


def _heights(passes: Sequence[Pass], to_go_m: float) -> Spread | None:
    """Heights of these passes with so much way to go."""
    points = (point for one in passes if one.detail for point in one.detail.points)
    return spread_of(point.height_m for point in points if point.to_go_m == to_go_m)


def _note(rows: Sequence[LandingRow], reviewed: Sequence[LandingRow]) -> str | None:
    """What stands in the way of the totals."""
    if rows and not reviewed:
        return "go-arounds are looked for at top-landing places alone"
    if len(reviewed) < len(rows):
        return f"go-arounds were looked for at {len(reviewed)} of {len(rows)} landings"
    return None
