"""A season made by hand, without analysis, for tests of the season review and of what is written about it."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np

from flightlog.arrays import frozen_floats
from flightlog.estimates import Estimate
from flightlog.measures.results import Event
from flightlog.season.records import ClimbStart, SeasonFlight, TracedSource, Way

METRE_DEG = math.degrees(1.0 / 6371000.0)
LAT, LON = 46.0, 8.0
SPOTS_M = ((1500.0, 800.0), (-900.0, 2200.0))


def at(day: int, minute: float = 0.0) -> datetime:
    """So many minutes after eleven on a day of 2026; day 1 is the first of April."""
    return datetime(2026, 4, 1, 11, tzinfo=UTC) + timedelta(days=day - 1, minutes=minute)


def position(east_m: float, north_m: float) -> tuple[float, float]:
    return LAT + north_m * METRE_DEG, LON + east_m * METRE_DEG / math.cos(math.radians(LAT))


def about(value: float, half_width: float) -> Estimate:
    return Estimate(value, value - half_width, value + half_width)


def made_climb(moment: datetime, spot: tuple[float, float], drift_to_deg: float, strength: float) -> ClimbStart:
    """A climb met 500 m down the drift of its spot."""
    angle = math.radians(drift_to_deg)
    met = position(spot[0] + 500.0 * math.sin(angle), spot[1] + 500.0 * math.cos(angle))
    source = TracedSource(*position(*spot), 600.0, 180.0, 60.0, drift_to_deg, *met, 1200.0)
    return ClimbStart(moment.timestamp(), *met, 1100.0, strength, 400.0, source)


def made_flight(
    day: int,
    *,
    ratio: float = 8.0,
    go_arounds: int = 0,
    landings: int = 1,
    file: str | None = None,
    pilot: str | None = "Pilot",
    wing: str | None = "Wing",
    place: str | None = "Hill",
    climbs: bool = True,
    has_date: bool = True,
) -> SeasonFlight:
    """An hour of flying from a hill, east and north of it, with a climb from each of two spots."""
    lift, touch = position(3.0 * day, 0.0), position(-3.0 * day, 2.0)
    line = [position(float(x), float(y)) for x, y in _way_m(day)]
    found = [
        made_climb(at(day, 10.0 + 20.0 * k), spot, (40.0 * day + 70.0 * k) % 360.0, 1.5 + k)
        for k, spot in enumerate(SPOTS_M if climbs else ())
    ]
    return SeasonFlight(
        file=file or f"day-{day}.igc", sha256=f"{day:04x}" * 16, has_date=has_date, pilot=pilot, wing=wing,
        number=1,
        takeoff=Event(at(day), *lift, 900.0, place, "foot_launch"),
        landing=Event(at(day, 60.0), *touch, 899.0, place, "top_landing"),
        duration_s=3600.0, altitude_gain_m=800.0,
        glide_ratio_ground=about(ratio, 0.5), glide_ratio_air=about(ratio - 0.5, 0.8), best_glide_ratio=None,
        mean_climb_mps=about(2.0, 0.1) if climbs else None, centred_share=about(0.8, 0.2) if climbs else None,
        go_arounds=go_arounds, reviewed_landings=landings, launch_run_s=4.0 + day % 3,
        launch_headwind_mps=about(4.0, 1.0), aborted_runs=int(day % 5 == 0), climbs=tuple(found),
        way=Way(
            frozen_floats([p[0] for p in line]), frozen_floats([p[1] for p in line]),
            frozen_floats([15.0] * len(line)), True,
        ),
    )  # fmt: skip


def _way_m(day: int) -> np.ndarray:
    """Legs over the country around, another one each day."""
    corners = np.random.default_rng(day).uniform(-3000.0, 3000.0, (6, 2))
    return np.concatenate([np.linspace(a, b, 30) for a, b in pairwise(corners)])
