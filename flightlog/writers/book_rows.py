"""The flights of the logbook as rows: for JSON, CSV and Parquet alike, SI units, times in UTC."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import dataclass, fields
from datetime import UTC, datetime
from typing import Any

from flightlog.logbook.flights import (
    ClimbFigures,
    FlightFigures,
    LoggedClimb,
    LoggedFlight,
    LoggedPass,
    PassFigures,
)
from flightlog.writers.json_values import iso_time, plain
from flightlog.writers.plain_text import csv_text


@dataclass(frozen=True)
class _FlightTold:
    """Which flight of the logbook, and when."""

    flight: int
    date: str | None  # where it took off
    zone: str
    takeoff_time: datetime
    landing_time: datetime


@dataclass(frozen=True)
class FlightRow(FlightFigures, _FlightTold):
    """One flight of the logbook, with the pilot's corrections; `flight` is its number there."""


@dataclass(frozen=True)
class _PartTold:
    """Which part of which flight, and when."""

    flight: int
    date: str | None
    number: int
    start_time: datetime
    end_time: datetime


@dataclass(frozen=True)
class ClimbRow(ClimbFigures, _PartTold):
    """One climb of a flight of the logbook."""


@dataclass(frozen=True)
class PassRow(PassFigures, _PartTold):
    """One approach to a landing place by a flight of the logbook."""


def flight_row(flight: LoggedFlight) -> FlightRow:
    """The row of a flight."""
    return FlightRow(
        flight=flight.flight,
        date=flight.local_date,
        zone=flight.zone,
        takeoff_time=datetime.fromtimestamp(flight.takeoff_s, tz=UTC),
        landing_time=datetime.fromtimestamp(flight.landing_s, tz=UTC),
        **_same(FlightFigures, flight),
    )


def climb_row(flight: LoggedFlight, climb: LoggedClimb) -> ClimbRow:
    """The row of a climb."""
    return ClimbRow(**_part_of(flight, climb), **_same(ClimbFigures, climb))


def pass_row(flight: LoggedFlight, one: LoggedPass) -> PassRow:
    """The row of a pass."""
    return PassRow(**_part_of(flight, one), **_same(PassFigures, one))


def _part_of(flight: LoggedFlight, part: LoggedClimb | LoggedPass) -> dict[str, Any]:
    """Which part of a flight, and when."""
    return {
        "flight": flight.flight,
        "date": flight.local_date,
        "number": part.number,
        "start_time": datetime.fromtimestamp(part.start_s, tz=UTC),
        "end_time": datetime.fromtimestamp(part.end_s, tz=UTC),
    }


def _same(kind: type, kept: object) -> dict[str, Any]:
    """The figures that are told as they are kept."""
    return {field.name: getattr(kept, field.name) for field in fields(kind)}


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
