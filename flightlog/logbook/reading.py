"""The debrief results that the logbook keeps, with the pilot's corrections in them: what season pages read.

    with open_book(path) as book:
        for day in booked_logs(book, Selection(year=2026)):
            for flight in day.flights:
                flight.result.climbs, flight.note, flight.wing, flight.result.takeoff.place

Nothing is analysed for it, and one log at a time is in memory.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby

import msgspec

from flightlog.air.recorder_check import RecorderCheck
from flightlog.debriefing import LogSummary
from flightlog.errors import BookError
from flightlog.logbook.flights import EVERYTHING, LoggedFlight, Selection, logged_flights
from flightlog.logbook.opening import Book
from flightlog.logbook.packing import unpacked_text
from flightlog.measures.results import Flight

__all__ = ["BookedFlight", "BookedLog", "DebriefResult", "booked_logs", "debrief_result"]


@dataclass(frozen=True)
class MadeBy:
    """The program that made a result."""

    name: str
    version: str


@dataclass(frozen=True)
class DebriefResult:
    """The results of one log as they are published (`flightlog/debrief/1`), in the classes of the analysis.

    Figures are rounded as the JSON is: lengths to a centimetre, speeds to a millimetre a second.
    """

    schema: str
    generator: MadeBy
    log: LogSummary
    flights: tuple[Flight, ...]
    cautions: tuple[str, ...]
    recorder_check: tuple[RecorderCheck, ...] | None = None


@dataclass(frozen=True)
class BookedFlight:
    """One flight: its row in the logbook, and its results, both with the corrections.

    `logged` has the names, the local date, the distances and the note; `result.takeoff.place` and
    `result.landing.place` are the corrected ones.
    """

    logged: LoggedFlight
    result: Flight

    @property
    def note(self) -> str | None:
        """What the pilot wrote about it."""
        return self.logged.note

    @property
    def wing(self) -> str | None:
        """The wing, as the pilot or else the log calls it."""
        return self.logged.wing

    @property
    def pilot(self) -> str | None:
        """The pilot, as corrected or else in the log."""
        return self.logged.pilot


@dataclass(frozen=True)
class BookedLog:
    """One log: its results with the corrections, and those of its flights that were chosen."""

    result: DebriefResult
    flights: tuple[BookedFlight, ...]


def booked_logs(book: Book, selection: Selection = EVERYTHING) -> Iterator[BookedLog]:
    """The logs of the chosen flights with their results, in order of the first take-off.

    What the pilot called no flight is left out, both of `flights` and of `result.flights`; so is what was not
    chosen.

    Raises
    ------
    BookError
        A result is of an older flightlog that wrote it in another way; the line says to renew it.
    """
    chosen = sorted(logged_flights(book, selection), key=lambda flight: (flight.log_id, flight.number))
    logs = [list(flights) for _, flights in groupby(chosen, key=lambda flight: flight.log_id)]
    for flights in sorted(logs, key=lambda flights: (flights[0].takeoff_s, flights[0].flight)):
        result = debrief_result(book, flights[0].log_id)
        by_number = {flight.number: flight for flight in result.flights}
        booked = tuple(BookedFlight(row, _corrected(by_number[row.number], row)) for row in flights)
        log = replace(result.log, pilot=flights[0].pilot, wing=flights[0].wing)
        yield BookedLog(replace(result, log=log, flights=tuple(one.result for one in booked)), booked)


def debrief_result(book: Book, log_id: int) -> DebriefResult:
    """The results of a log as they were found, without corrections; errors are those of `booked_logs`."""
    found = book.row("SELECT content, size_bytes FROM results WHERE log_id = ?", (log_id,))
    if found is None:
        raise BookError("the logbook keeps no result of a log", "make it anew: flightlog book renew", book.path)
    try:
        return msgspec.json.decode(unpacked_text(*found), type=DebriefResult)
    except msgspec.MsgspecError as error:
        raise BookError(
            "the logbook keeps results of another flightlog", "make them anew: flightlog book renew", book.path
        ) from error


def _corrected(flight: Flight, row: LoggedFlight) -> Flight:
    """The results of a flight with the names of its row."""
    return replace(
        flight,
        takeoff=replace(flight.takeoff, place=row.takeoff_place),
        landing=replace(flight.landing, place=row.landing_place),
    )
