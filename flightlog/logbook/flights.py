"""The flights of the logbook as rows, chosen by date, place, wing and pilot, with what the pilot said of them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, fields, replace
from typing import Any

from flightlog.errors import BookError
from flightlog.logbook.opening import Book


@dataclass(frozen=True)
class Selection:
    """Which flights: all of them unless narrowed down; texts match a part of the name, in upper or lower case."""

    year: int | None = None
    first: datetime.date | None = None
    last: datetime.date | None = None
    place: str | None = None  # of take-off or landing
    wing: str | None = None
    pilot: str | None = None
    also_no_flights: bool = False  # what the pilot called none


EVERYTHING = Selection()


@dataclass(frozen=True)
class FlightFigures:
    """What is known of a flight: the pilot's corrections stand in place of what the log says."""

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


@dataclass(frozen=True)
class _FlightKept:
    """Which flight, and when: as the logbook keeps it."""

    flight: int
    log_id: int
    local_date: str | None
    zone: str
    utc_offset_s: float
    takeoff_s: float
    landing_s: float


@dataclass(frozen=True)
class LoggedFlight(FlightFigures, _FlightKept):
    """One flight as the logbook tells it; fields of the last base come first.

    `flight` is its number in the logbook, `number` that in its log. Times `_s` are seconds since 1970-01-01 UTC.
    """

    @property
    def takeoff(self) -> datetime.datetime:
        """When it took off, by the clock of the place."""
        return self.local_time(self.takeoff_s)

    @property
    def landing(self) -> datetime.datetime:
        """When it landed, by the clock of the place of take-off."""
        return self.local_time(self.landing_s)

    def local_time(self, seconds: float) -> datetime.datetime:
        """A time of the flight by the clock of the place of take-off."""
        clock = datetime.timezone(datetime.timedelta(seconds=self.utc_offset_s))
        return datetime.datetime.fromtimestamp(seconds, tz=clock)


@dataclass(frozen=True)
class ClimbFigures:
    """What is kept of a climb."""

    mode: str
    gain_m: float | None
    base_altitude_m: float | None
    top_altitude_m: float | None
    mean_climb_mps: float | None
    best_30s_climb_mps: float | None
    turn_direction: str | None


@dataclass(frozen=True)
class PassFigures:
    """What is kept of an approach to a landing place."""

    place: str | None
    outcome: str
    certainty: str
    lowest_height_m: float
    decision_height_m: float | None
    decision_distance_m: float | None


@dataclass(frozen=True)
class _PartKept:
    """Which part of which flight, and when: as the logbook keeps it."""

    flight: int
    number: int
    start_s: float
    end_s: float


@dataclass(frozen=True)
class LoggedClimb(ClimbFigures, _PartKept):
    """One climb of a flight."""


@dataclass(frozen=True)
class LoggedPass(PassFigures, _PartKept):
    """One approach of a flight to a landing place."""


_SAID = {
    "flight": "flights.id",
    "log_sha256": "logs.sha256",
    "log_file": "logs.name",
    "pilot": "COALESCE(remarks.pilot, flights.pilot)",
    "wing": "COALESCE(remarks.wing, logs.wing_name, flights.wing)",
    "takeoff_place": "COALESCE(remarks.takeoff_place, flights.takeoff_place)",
    "landing_place": "COALESCE(remarks.landing_place, flights.landing_place)",
    "note": "remarks.note",
    "is_flight": "COALESCE(remarks.is_flight, 1)",
}
"""Columns that are more than a column of the table of flights."""
_COLUMNS = ", ".join(f"{_SAID.get(f.name, f'flights.{f.name}')} AS {f.name}" for f in fields(LoggedFlight))
_QUESTION = f"""
SELECT * FROM (
    SELECT {_COLUMNS} FROM flights
    JOIN logs ON logs.id = flights.log_id LEFT JOIN remarks ON remarks.flight = flights.id
)
WHERE (is_flight OR :also_no_flights)
  AND (:year IS NULL OR substr(local_date, 1, 4) = :year)
  AND (:flight IS NULL OR flight = :flight)
  AND (:first IS NULL OR local_date >= :first)
  AND (:last IS NULL OR local_date <= :last)
ORDER BY takeoff_s, flight
"""  # noqa: S608 (names of this program alone)


def logged_flights(book: Book, selection: Selection = EVERYTHING) -> list[LoggedFlight]:
    """The chosen flights in order of take-off; errors are those of `Book.rows`.

    Dates are those of the place of take-off. A flight of a log without a date is in no year and in no span.
    """
    found = [_flight(row) for row in book.rows(_QUESTION, _values(selection))]
    return [flight for flight in found if _is_chosen(flight, selection)]


def _values(selection: Selection, flight: int | None = None) -> dict[str, Any]:
    """What the question is asked with."""
    return {
        "flight": flight,
        "year": None if selection.year is None else f"{selection.year:04d}",
        "first": selection.first.isoformat() if selection.first else None,
        "last": selection.last.isoformat() if selection.last else None,
        "also_no_flights": selection.also_no_flights,
    }


def logged_flight(book: Book, number: int) -> LoggedFlight:
    """The flight with that number in the logbook, BookError where there is none."""
    row = book.row(_QUESTION, _values(Selection(also_no_flights=True), number))
    if row is None:
        raise BookError(f"there is no flight {number}", "see flightlog book list --all", book.path)
    return _flight(row)


def names_in_log(book: Book, number: int) -> dict[str, str | None]:
    """Pilot, wing and places of a flight as the log and the places file have them, without corrections."""
    names = ("pilot", "wing", "takeoff_place", "landing_place")
    row = book.row("SELECT pilot, wing, takeoff_place, landing_place FROM flights WHERE id = ?", (number,))
    return dict(zip(names, row or [None] * len(names), strict=True))


def logged_climbs(book: Book, flight: int | None = None) -> list[LoggedClimb]:
    """The climbs of a flight, or of all, in order of flight and time."""
    return [LoggedClimb(*row) for row in book.rows(_parts("climbs", LoggedClimb), {"flight": flight})]


def logged_passes(book: Book, flight: int | None = None) -> list[LoggedPass]:
    """The passes of a flight, or of all, in order of flight and time."""
    return [LoggedPass(*row) for row in book.rows(_parts("passes", LoggedPass), {"flight": flight})]


def _parts(table: str, kind: type) -> str:
    """The question for the rows of a table, names of this program alone."""
    columns = ", ".join("flight_id" if field.name == "flight" else field.name for field in fields(kind))
    return (
        f"SELECT {columns} FROM {table} WHERE :flight IS NULL OR flight_id = :flight"  # noqa: S608
        " ORDER BY flight_id, number"
    )


def _flight(row: tuple[Any, ...]) -> LoggedFlight:
    """The flight of a row; SQLite knows no yes and no."""
    flight = LoggedFlight(*row)
    return replace(flight, is_flight=bool(flight.is_flight))


def _is_chosen(flight: LoggedFlight, selection: Selection) -> bool:
    """Whether the names of a flight are those asked for; SQLite folds the case of ASCII letters only."""
    return (
        _matches(selection.place, flight.takeoff_place, flight.landing_place)
        and _matches(selection.wing, flight.wing)
        and _matches(selection.pilot, flight.pilot)
    )


def _matches(asked: str | None, *names: str | None) -> bool:
    """Whether what is asked for stands in any of the names."""
    return asked is None or any(asked.casefold() in name.casefold() for name in names if name)
