"""The flights of the logbook as rows: for JSON, CSV and Parquet alike, SI units, times in UTC."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any

from flightlog.logbook.flights import LoggedClimb, LoggedFlight, LoggedPass
from flightlog.writers.json_values import iso_time, plain
from flightlog.writers.plain_text import csv_text


@dataclass(frozen=True)
class FlightRow:
    """One flight of the logbook, with the pilot's corrections; `flight` is its number there."""

    flight: int
    date: str | None  # where it took off
    zone: str
    takeoff_time: datetime
    landing_time: datetime
    duration_s: float
    takeoff_place: str | None
    takeoff_lat_deg: float
    takeoff_lon_deg: float
    takeoff_altitude_m: float | None
    takeoff_kind: str
    landing_place: str | None
    landing_lat_deg: float
    landing_lon_deg: float
    landing_altitude_m: float | None
    landing_kind: str
    pilot: str | None
    wing: str | None
    track_length_m: float
    gain_m: float | None
    max_altitude_m: float | None
    open_distance_m: float | None
    free_distance_m: float | None
    go_arounds: int
    possible_go_arounds: int
    note: str | None
    is_flight: bool  # False: the pilot says that it is none
    log_file: str
    log_sha256: str
    number: int  # in its log


_OTHER = ("date", "takeoff_time", "landing_time")


def flight_row(flight: LoggedFlight) -> FlightRow:
    """The row of a flight."""
    same = {field.name: getattr(flight, field.name) for field in fields(FlightRow) if field.name not in _OTHER}
    return FlightRow(
        date=flight.local_date,
        takeoff_time=datetime.fromtimestamp(flight.takeoff_s, tz=UTC),
        landing_time=datetime.fromtimestamp(flight.landing_s, tz=UTC),
        **same,
    )


@dataclass(frozen=True)
class ClimbRow:
    """One climb of a flight of the logbook."""

    flight: int
    date: str | None
    number: int
    start_time: datetime
    end_time: datetime
    mode: str
    gain_m: float | None
    base_altitude_m: float | None
    top_altitude_m: float | None
    mean_climb_mps: float | None
    best_30s_climb_mps: float | None
    turn_direction: str | None


@dataclass(frozen=True)
class PassRow:
    """One approach to a landing place by a flight of the logbook."""

    flight: int
    date: str | None
    number: int
    place: str | None
    start_time: datetime
    end_time: datetime
    outcome: str
    certainty: str
    lowest_height_m: float
    decision_height_m: float | None
    decision_distance_m: float | None


def climb_row(flight: LoggedFlight, climb: LoggedClimb) -> ClimbRow:
    """The row of a climb."""
    return ClimbRow(**_of_flight(ClimbRow, flight, climb))


def pass_row(flight: LoggedFlight, one: LoggedPass) -> PassRow:
    """The row of a pass."""
    return PassRow(**_of_flight(PassRow, flight, one))


def _of_flight(kind: type, flight: LoggedFlight, part: LoggedClimb | LoggedPass) -> dict[str, Any]:
    """The values of a row about a part of a flight."""
    other = ("flight", "date", "start_time", "end_time")
    return {
        "flight": flight.flight,
        "date": flight.local_date,
        "start_time": datetime.fromtimestamp(part.start_s, tz=UTC),
        "end_time": datetime.fromtimestamp(part.end_s, tz=UTC),
        **{field.name: getattr(part, field.name) for field in fields(kind) if field.name not in other},
    }


def rows_csv(kind: type, rows: Iterable[Any]) -> str:
    """Rows of a class as CSV (RFC 4180), its fields as columns; what is not known is empty."""
    text = io.StringIO()
    writer = csv.writer(text)
    names = [field.name for field in fields(kind)]
    writer.writerow(names)
    for row in rows:
        writer.writerow([_cell(name, getattr(row, name)) for name in names])
    return text.getvalue()


def _cell(name: str, value: object) -> object:
    """One cell."""
    if isinstance(value, datetime):
        return iso_time(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return plain(value, name)
    return csv_text(value)
