"""Is the logbook sound? The file, every original against its digest, every result, and what hangs loose."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from flightlog.earth.geodesy import distance_m
from flightlog.errors import BookError
from flightlog.logbook.flights import LoggedFlight, Selection, logged_flights
from flightlog.logbook.opening import Book
from flightlog.logbook.packing import unpacked_log
from flightlog.logbook.reading import debrief_result
from flightlog.logbook.remarks import Remark, loose_remarks
from flightlog.logbook.renewing import outdated_logs


@dataclass(frozen=True)
class Fault:
    """Something that is not as it should be; `log` is the name of the log it was met in, or None."""

    log: str | None
    message: str


def checked(book: Book, analysis: str, step: Callable[[], None]) -> Checked:
    """Check the whole logbook; `step` is called after each log, `analysis` is the version that is up to date."""
    faults = faults_of_file(book)
    for fault in faults_of_logs(book):
        faults += [fault] if fault else []
        step()
    return Checked(
        logs=log_count(book),
        flights=flight_count_of(book),
        outdated_logs=len(outdated_logs(book, analysis)),
        faults=tuple(faults),
        loose_remarks=tuple(loose_remarks(book)),
        overlaps=tuple(overlaps(book)),
    )


def faults_of_file(book: Book) -> list[Fault]:
    """What the database finds wrong with its own file and its rows."""
    found = [Fault(None, str(row[0])[:200]) for row in book.rows("PRAGMA integrity_check(20)") if row[0] != "ok"]
    loose = book.rows("PRAGMA foreign_key_check")
    if loose:
        found.append(Fault(None, f"{len(loose)} rows belong to nothing (table {loose[0][0]})"))
    lost = book.rows(
        "SELECT name FROM logs WHERE id NOT IN (SELECT log_id FROM originals)"
        " OR id NOT IN (SELECT log_id FROM results)"
    )
    return found + [Fault(row[0], "its original or its result is missing") for row in lost]


def log_count(book: Book) -> int:
    """How many logs there are."""
    row = book.row("SELECT count(*) FROM logs")
    return int(row[0]) if row else 0


def flight_count_of(book: Book) -> int:
    """How many flights there are, what the pilot called none included."""
    row = book.row("SELECT count(*) FROM flights")
    return int(row[0]) if row else 0


def faults_of_logs(book: Book) -> Iterator[Fault | None]:
    """One for each log: what is wrong with its original or its result, or None; one log at a time is read."""
    for (log_id,) in book.rows("SELECT id FROM logs ORDER BY id"):
        row = book.row(
            "SELECT name, sha256, size_bytes, content FROM logs JOIN originals ON log_id = id WHERE id = ?",
            (log_id,),
        )
        yield _fault_of_log(book, log_id, *row) if row else None


@dataclass(frozen=True)
class Checked:
    """What a check of the whole logbook found."""

    logs: int
    flights: int
    outdated_logs: int
    faults: tuple[Fault, ...]
    loose_remarks: tuple[Remark, ...]
    overlaps: tuple[Overlap, ...]


@dataclass(frozen=True)
class Overlap:
    """Two flights of different logs at the same time, by what may be one pilot: perhaps one, recorded twice."""

    flight: int
    earlier_flight: int  # which was in the logbook before
    log: str
    earlier_log: str
    date: str | None


def overlaps(book: Book, log_sha256: str | None = None) -> list[Overlap]:
    """Flights that one pilot cannot have flown both; of one log alone where its digest is given.

    Two flights of the same pilot overlap when one takes off before the other lands. Where a log does not tell the
    pilot, they must take off within 5 minutes and 2 km of each other (common practice, no source): a club keeps
    many pilots in one logbook. What was called no flight is left out, and so are logs without a date.
    """
    flights = [flight for flight in logged_flights(book, _days_of(book, log_sha256)) if flight.local_date]
    found = []
    for at, one in enumerate(flights):
        for other in flights[at + 1 :]:  # in order of take-off
            if other.takeoff_s >= one.landing_s and other.takeoff_s - one.takeoff_s > _SAME_TAKEOFF_S:
                break
            if other.log_id != one.log_id and _may_be_one(one, other):
                earlier, later = sorted((one, other), key=lambda flight: flight.log_id)
                if log_sha256 in (None, later.log_sha256):
                    found.append(
                        Overlap(later.flight, earlier.flight, later.log_file, earlier.log_file, later.local_date)
                    )
    return found


def _days_of(book: Book, log_sha256: str | None) -> Selection:
    """The flights of the days of a log, and of those before and after; all without a log."""
    row = book.row(
        "SELECT date(min(local_date), '-1 day'), date(max(local_date), '+1 day')"
        " FROM flights JOIN logs ON logs.id = log_id WHERE sha256 = ?",
        (log_sha256,),
    )
    if row is None or row[0] is None:
        return Selection()
    return Selection(first=date.fromisoformat(row[0]), last=date.fromisoformat(row[1]))


_SAME_TAKEOFF_S, _SAME_TAKEOFF_M = 300.0, 2000.0


def _may_be_one(one: LoggedFlight, other: LoggedFlight) -> bool:
    """Whether two flights at the same time may be one flight."""
    if one.pilot and other.pilot:
        return one.pilot.casefold() == other.pilot.casefold() and other.takeoff_s < one.landing_s
    apart_m = distance_m(one.takeoff_lat_deg, one.takeoff_lon_deg, other.takeoff_lat_deg, other.takeoff_lon_deg)
    return other.takeoff_s - one.takeoff_s <= _SAME_TAKEOFF_S and float(apart_m) <= _SAME_TAKEOFF_M


def _fault_of_log(
    book: Book, log_id: int, name: str, sha256: str, size_bytes: int, content: bytes
) -> Fault | None:
    """What is wrong with one log."""
    try:
        if hashlib.sha256(unpacked_log(content, size_bytes)).hexdigest() != sha256:
            return Fault(name, "its original is not what was added")
        result = debrief_result(book, log_id)
    except BookError as error:
        return Fault(name, error.found)
    row = book.row("SELECT count(*) FROM flights WHERE log_id = ?", (log_id,))
    if result.log.sha256 != sha256 or row is None or row[0] != len(result.flights):
        return Fault(name, "its flights are not those of its result")
    return None
