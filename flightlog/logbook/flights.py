"""The flights of the logbook as rows, chosen by date, place, wing and pilot, with what the pilot said of them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, fields
from typing import Any

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


EVERYTHING = Selection()


@dataclass(frozen=True)
class LoggedFlight:
    """One flight as the logbook tells it: the pilot's corrections stand in place of what the log says.

    `flight` is its number in the logbook, `number` that in its log. Times `_s` are seconds since 1970-01-01 UTC.
    """

    flight: int
    log_id: int
    log_sha256: str
    log_file: str
    number: int
    local_date: str | None
    zone: str
    utc_offset_s: float
    takeoff_s: float
    landing_s: float
    pilot: str | None
    wing: str | None
    takeoff_kind: str
    takeoff_place: str | None
    takeoff_lat_deg: float
    takeoff_lon_deg: float
    takeoff_altitude_m: float | None
    landing_kind: str
    landing_place: str | None
    landing_lat_deg: float
    landing_lon_deg: float
    landing_altitude_m: float | None
    duration_s: float
    track_length_m: float
    gain_m: float | None
    max_altitude_m: float | None
    open_distance_m: float | None
    free_distance_m: float | None
    go_arounds: int
    possible_go_arounds: int
    note: str | None

    @property
    def takeoff(self) -> datetime.datetime:
        """When it took off, by the clock of the place."""
        return self._local(self.takeoff_s)

    @property
    def landing(self) -> datetime.datetime:
        """When it landed, by the clock of the place of take-off."""
        return self._local(self.landing_s)

    def _local(self, seconds: float) -> datetime.datetime:
        clock = datetime.timezone(datetime.timedelta(seconds=self.utc_offset_s))
        return datetime.datetime.fromtimestamp(seconds, tz=clock)


_SAID = {
    "flight": "flights.id",
    "log_sha256": "logs.sha256",
    "log_file": "logs.name",
    "wing": "COALESCE(logs.wing_name, flights.wing)",
    "note": "NULL",
}
"""Columns that are more than a column of the table of flights."""
_COLUMNS = ", ".join(f"{_SAID.get(f.name, f'flights.{f.name}')} AS {f.name}" for f in fields(LoggedFlight))
_QUESTION = f"""
SELECT * FROM (SELECT {_COLUMNS} FROM flights JOIN logs ON logs.id = flights.log_id)
WHERE (:year IS NULL OR substr(local_date, 1, 4) = :year)
  AND (:first IS NULL OR local_date >= :first)
  AND (:last IS NULL OR local_date <= :last)
ORDER BY takeoff_s, flight
"""  # noqa: S608 (names of this program alone)


def logged_flights(book: Book, selection: Selection = EVERYTHING) -> list[LoggedFlight]:
    """The chosen flights in order of take-off; errors are those of `Book.rows`.

    Dates are those of the place of take-off. A flight of a log without a date is in no year and in no span.
    """
    values: dict[str, Any] = {
        "year": None if selection.year is None else f"{selection.year:04d}",
        "first": selection.first.isoformat() if selection.first else None,
        "last": selection.last.isoformat() if selection.last else None,
    }
    found = [LoggedFlight(*row) for row in book.rows(_QUESTION, values)]
    return [flight for flight in found if _is_chosen(flight, selection)]


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
