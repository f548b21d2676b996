"""What the logbook tells, as JSON.

History of the schemas `flightlog/book-...`: each is the first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flightlog.logbook.flights import LoggedFlight
from flightlog.logbook.totals import Total, total_of
from flightlog.writers.book_rows import FlightRow, flight_row
from flightlog.writers.json_results import GENERATOR, Generator, encoded

LIST_SCHEMA, TOTALS_SCHEMA = "flightlog/book-list/1", "flightlog/book-totals/1"


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


def list_json(flights: Sequence[LoggedFlight]) -> bytes:
    """The flights as UTF-8 JSON in one line."""
    return encoded(BookListDocument(LIST_SCHEMA, GENERATOR, tuple(map(flight_row, flights))), 0)


def totals_json(way: str, totals: Sequence[Total], flights: Sequence[LoggedFlight]) -> bytes:
    """The totals as UTF-8 JSON in one line."""
    return encoded(BookTotalsDocument(TOTALS_SCHEMA, GENERATOR, way, tuple(totals), total_of(None, flights)), 0)
