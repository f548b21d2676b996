"""What the logbook tells of its flights, as JSON; loads nothing of the analysis, so that it answers at once.

History of the schemas `flightlog/book-...`: each is the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from flightlog.logbook.currency import CAUTION, Recency
from flightlog.logbook.flights import LoggedFlight
from flightlog.logbook.totals import Total, total_of
from flightlog.writers.book_rows import ClimbRow, FlightRow, PassRow, flight_row
from flightlog.writers.json_values import GENERATOR, Generator, encoded

LIST_SCHEMA, TOTALS_SCHEMA = "flightlog/book-list/1", "flightlog/book-totals/1"
CURRENCY_SCHEMA, EXPORT_SCHEMA = "flightlog/book-currency/1", "flightlog/book-export/1"


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


def currency_json(today: date, whole: Recency, wings: Sequence[Recency], undated: int) -> bytes:
    """How recent the flying is as UTF-8 JSON in one line."""
    document = BookCurrencyDocument(
        CURRENCY_SCHEMA, GENERATOR, today.isoformat(), whole, tuple(wings), undated, (CAUTION,)
    )
    return encoded(document, 0)


def export_json(flights: Sequence[FlightRow], climbs: Sequence[ClimbRow], passes: Sequence[PassRow]) -> bytes:
    """Flights, climbs and passes as UTF-8 JSON in one line."""
    document = BookExportDocument(EXPORT_SCHEMA, GENERATOR, tuple(flights), tuple(climbs), tuple(passes))
    return encoded(document, 0) + b"\n"
