"""One flight of the logbook with its results, and what a check of the logbook found, as JSON."""

from __future__ import annotations

from dataclasses import dataclass

from flightlog.debriefing import LogSummary
from flightlog.logbook.checking import Checked, Fault, Overlap
from flightlog.logbook.flights import LoggedFlight
from flightlog.logbook.reading import DebriefResult
from flightlog.logbook.remarks import Remark
from flightlog.measures.results import Flight
from flightlog.writers.book_rows import FlightRow, flight_row
from flightlog.writers.json_values import GENERATOR, Generator, encoded

FLIGHT_SCHEMA, CHECK_SCHEMA = "flightlog/book-flight/1", "flightlog/book-check/1"


@dataclass(frozen=True)
class BookFlightDocument:
    """What `flightlog book show --to json` writes: the flight with the corrections, and as the log has it."""

    schema: str
    generator: Generator
    flight: FlightRow
    log: LogSummary
    result: Flight


@dataclass(frozen=True)
class BookCheckDocument:
    """What `flightlog book check --to json` writes.

    `loose_remarks` are about flights that are not found now; `overlaps` are perhaps flights recorded twice.
    """

    schema: str
    generator: Generator
    logs: int
    flights: int
    outdated_logs: int
    faults: tuple[Fault, ...]
    loose_remarks: tuple[Remark, ...]
    overlaps: tuple[Overlap, ...]


def flight_json(flight: LoggedFlight, result: DebriefResult) -> bytes:
    """One flight with its results as UTF-8 JSON in one line."""
    found = next(one for one in result.flights if one.number == flight.number)
    return encoded(BookFlightDocument(FLIGHT_SCHEMA, GENERATOR, flight_row(flight), result.log, found), 0)


def check_json(found: Checked) -> bytes:
    """What a check found as UTF-8 JSON in one line."""
    return encoded(BookCheckDocument(CHECK_SCHEMA, GENERATOR, **vars(found)), 0)
