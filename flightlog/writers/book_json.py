"""What the logbook tells, as JSON.

History of the schemas `flightlog/book-...`: each is the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from flightlog.debriefing import LogSummary
from flightlog.logbook.checking import Fault
from flightlog.logbook.currency import CAUTION, Recency
from flightlog.logbook.flights import LoggedFlight
from flightlog.logbook.reading import DebriefResult
from flightlog.logbook.remarks import Remark
from flightlog.logbook.totals import Total, total_of
from flightlog.measures.results import Flight
from flightlog.writers.book_rows import ClimbRow, FlightRow, PassRow, flight_row
from flightlog.writers.json_results import GENERATOR, Generator, encoded

LIST_SCHEMA, TOTALS_SCHEMA = "flightlog/book-list/1", "flightlog/book-totals/1"
FLIGHT_SCHEMA, CURRENCY_SCHEMA = "flightlog/book-flight/1", "flightlog/book-currency/1"
CHECK_SCHEMA, EXPORT_SCHEMA = "flightlog/book-check/1", "flightlog/book-export/1"


@dataclass(frozen=True)
class BookListDocument:
    """What `flightlog book list --to json` writes."""

    schema: str
    generator: Generator
    flights: tuple[FlightRow, ...]


@dataclass(frozen=True)
class BookTotalsDocument:
    """What `flightlog book totals --to json` writes."""

    schema: str
    generator: Generator
    by: str  # month | year | place | wing
    groups: tuple[Total, ...]
    all: Total


@dataclass(frozen=True)
class BookFlightDocument:
    """What `flightlog book show --to json` writes: the flight with the corrections, and as the log has it."""

    schema: str
    generator: Generator
    flight: FlightRow
    log: LogSummary
    result: Flight


@dataclass(frozen=True)
class BookCurrencyDocument:
    """What `flightlog book currency --to json` writes."""

    schema: str
    generator: Generator
    today: str
    all: Recency
    wings: tuple[Recency, ...]
    undated_flights: int
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class BookCheckDocument:
    """What `flightlog book check --to json` writes; `loose_remarks` are about flights that are not found now."""

    schema: str
    generator: Generator
    logs: int
    flights: int
    outdated_logs: int
    faults: tuple[Fault, ...]
    loose_remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class BookExportDocument:
    """What `flightlog book export --to json` writes."""

    schema: str
    generator: Generator
    flights: tuple[FlightRow, ...]
    climbs: tuple[ClimbRow, ...]
    passes: tuple[PassRow, ...]


def list_json(flights: Sequence[LoggedFlight]) -> bytes:
    """The flights as UTF-8 JSON in one line."""
    return encoded(BookListDocument(LIST_SCHEMA, GENERATOR, tuple(map(flight_row, flights))), 0)


def totals_json(way: str, totals: Sequence[Total], flights: Sequence[LoggedFlight]) -> bytes:
    """The totals as UTF-8 JSON in one line."""
    return encoded(BookTotalsDocument(TOTALS_SCHEMA, GENERATOR, way, tuple(totals), total_of(None, flights)), 0)


def flight_json(flight: LoggedFlight, result: DebriefResult) -> bytes:
    """One flight with its results as UTF-8 JSON in one line."""
    found = next(one for one in result.flights if one.number == flight.number)
    return encoded(BookFlightDocument(FLIGHT_SCHEMA, GENERATOR, flight_row(flight), result.log, found), 0)


def currency_json(today: date, whole: Recency, wings: Sequence[Recency], undated: int) -> bytes:
    """How recent the flying is as UTF-8 JSON in one line."""
    document = BookCurrencyDocument(
        CURRENCY_SCHEMA, GENERATOR, today.isoformat(), whole, tuple(wings), undated, (CAUTION,)
    )
    return encoded(document, 0)


def check_json(logs: int, flights: int, outdated: int, faults: Sequence[Fault], loose: Sequence[Remark]) -> bytes:
    """What a check found as UTF-8 JSON in one line."""
    document = BookCheckDocument(CHECK_SCHEMA, GENERATOR, logs, flights, outdated, tuple(faults), tuple(loose))
    return encoded(document, 0)


def export_json(flights: Sequence[FlightRow], climbs: Sequence[ClimbRow], passes: Sequence[PassRow]) -> bytes:
    """Flights, climbs and passes as UTF-8 JSON in one line."""
    document = BookExportDocument(EXPORT_SCHEMA, GENERATOR, tuple(flights), tuple(climbs), tuple(passes))
    return encoded(document, 0) + b"\n"
