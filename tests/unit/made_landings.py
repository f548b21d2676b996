"""Landings of a few days made by hand, for tests of the landing review and of what is written about it."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta

import numpy as np

from flightlog.arrays import frozen_floats
from flightlog.estimates import Estimate
from flightlog.landings.records import Contact, FlightRecord, LandingLog, PassRecord
from flightlog.measures.results import Decision, Pass, PassDetail, PathPoint

METRE_DEG = math.degrees(1.0 / 6371000.0)
LAT, LON = 46.0, 8.0


def at(day: int, minute: float) -> datetime:
    return datetime(2026, 6, day, 10, tzinfo=UTC) + timedelta(minutes=minute)


def position(east_m: float, north_m: float) -> tuple[float, float]:
    return LAT + north_m * METRE_DEG, LON + east_m * METRE_DEG / math.cos(math.radians(LAT))


def about(value: float, half_width: float) -> Estimate:
    return Estimate(value, value - half_width, value + half_width)


def made_pass(
    number: int,
    end: datetime,
    *,
    landed: bool = False,
    certainty: str = "sure",
    height_m: float = 7.0,
    off_path_m: float = 12.0,
    headwind_mps: float = 5.0,
    wind_mps: float = 5.0,
    place: str | None = None,
    north_m: float = 0.0,
    home: int | None = None,
    flight: int = 1,
    altitude_m: float = 900.0,
) -> PassRecord:
    """A straight pass from the south that ends over the place; 100, 50 and 25 m are on its way."""
    points = tuple(
        PathPoint(
            to_go, end - timedelta(seconds=to_go / 6), height_m + to_go / 6, 6.0, 1.0, about(off_path_m, 4.0)
        )
        for to_go in (100.0, 50.0, 25.0)
    )
    figures = Pass(
        number, place, end - timedelta(seconds=60), end, "landed" if landed else "go_around", certainty,
        3.0, 0.0 if landed else height_m, None if landed else Decision(end, height_m, 11.0),
        6.0, about(headwind_mps, 2.0), 1.0, 2.0, 8.0, None if landed else 40.0, None,
        PassDetail(points, 180.0, wind_mps, 0.7, about(1.0, 1.5), 1.6, 12.0, 0.4),
    )  # fmt: skip
    lat, lon = position(0.0, north_m)
    along = np.linspace(-300.0, 0.0, 60)
    line = [position(0.0, north_m + y) for y in along]
    heights = (0.0 if landed else height_m) - along / 6
    return PassRecord(
        figures, flight, home, lat, lon, altitude_m, frozen_floats([p[0] for p in line]),
        frozen_floats([p[1] for p in line]), frozen_floats(heights), 60, *line[-1],
    )  # fmt: skip


def made_contact(
    moment: datetime,
    *,
    takeoff: bool,
    east_m: float = 0.0,
    north_m: float = 0.0,
    altitude_m: float = 900.0,
    flight: int = 1,
    home: int | None = None,
    top: bool = True,
) -> Contact:
    return Contact(moment, *position(east_m, north_m), altitude_m, takeoff, flight, home, top)


def made_log(day: int, go_arounds: int, *, file: str | None = None, place: str | None = None) -> LandingLog:
    """A flight that took off at the top and landed there after so many go-arounds, ten minutes apart."""
    ends = [at(day, 30.0 + 10.0 * number) for number in range(go_arounds + 1)]
    passes = tuple(
        made_pass(
            number, end, landed=number > go_arounds, height_m=5.0 + number + day, wind_mps=4.0 + day, place=place
        )
        for number, end in enumerate(ends, start=1)
    )
    contacts = (
        made_contact(at(day, 0.0), takeoff=True, altitude_m=895.0 + 5 * day),
        made_contact(ends[-1], takeoff=False, east_m=5.0 * day, altitude_m=895.0 + 5 * day),
    )
    flights = (FlightRecord(1, at(day, 0.0), ends[-1], False, "top_landing"),)
    name = file or f"day-{day}.igc"
    return LandingLog(name, f"2026-06-{day:02d}", f"{day:02x}" * 32, flights, contacts, passes)


def valley_log(day: int, tries: int = 1) -> LandingLog:
    """A flight that tried the top in vain and landed in the valley."""
    passes = tuple(made_pass(k, at(day, 20.0 + k), north_m=10.0) for k in range(1, tries + 1))
    contacts = (
        made_contact(at(day, 0.0), takeoff=True),
        made_contact(at(day, 50.0), takeoff=False, east_m=3000.0, altitude_m=400.0, top=False),
    )
    flights = (FlightRecord(1, at(day, 0.0), at(day, 50.0), False, "landing"),)
    return LandingLog(f"valley-{day}.igc", f"2026-06-{day:02d}", f"f{day:x}" * 32, flights, contacts, passes)
