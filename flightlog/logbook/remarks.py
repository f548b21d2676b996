"""What the pilot says about flights: notes and corrections, kept through every new analysis."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from flightlog.errors import BookError
from flightlog.logbook.flights import logged_flight
from flightlog.logbook.opening import Book
from flightlog.tracks.plain_names import plain_text

SAME_TAKEOFF_S = 60.0
"""A flight found anew is the same as before where it takes off within so many seconds of it. New methods move the
lift-off by seconds (95 % lie within 3 s of the truth on simulated days); nobody lands and launches again in a
minute (common practice, no source)."""
LONGEST_NOTE = 10_000
CORRECTIONS = ("pilot", "wing", "takeoff_place", "landing_place")
"""What a correction can name."""


@dataclass(frozen=True)
class Remark:
    """What the pilot says about one flight; None: nothing, the log's own word stands.

    `has_flight` is False where the last analysis found no flight that takes off then.
    """

    flight: int
    log_file: str
    takeoff_s: float  # seconds since 1970-01-01 UTC
    note: str | None
    pilot: str | None
    wing: str | None
    takeoff_place: str | None
    landing_place: str | None
    is_flight: bool
    has_flight: bool

    @property
    def takeoff(self) -> datetime:
        """When it took off."""
        return datetime.fromtimestamp(self.takeoff_s, tz=UTC)


_QUESTION = """
SELECT remarks.flight, logs.name, remarks.takeoff_s, remarks.note, remarks.pilot, remarks.wing,
       remarks.takeoff_place, remarks.landing_place, remarks.is_flight, flights.id IS NOT NULL
FROM remarks JOIN logs ON logs.id = remarks.log_id LEFT JOIN flights ON flights.id = remarks.flight
ORDER BY remarks.takeoff_s, remarks.flight
"""


def remarks(book: Book) -> list[Remark]:
    """All that the pilot said, in order of take-off."""
    found = [Remark(*row) for row in book.rows(_QUESTION)]
    return [replace(one, is_flight=bool(one.is_flight), has_flight=bool(one.has_flight)) for one in found]


def loose_remarks(book: Book) -> list[Remark]:
    """What was said about flights that the last analysis did not find: kept, and to be told."""
    return [remark for remark in remarks(book) if not remark.has_flight]


def note_flight(book: Book, number: int, note: str | None) -> None:
    """Write a note about a flight in place of the one before; None takes it away.

    Raises
    ------
    BookError
        There is no such flight, or the note is longer than 10 000 characters.
    """
    text = None
    if note is not None:
        if len(note) > LONGEST_NOTE:
            raise BookError(f"a note of {len(note)} characters", f"{LONGEST_NOTE} are the most", book.path)
        text = "\n".join(plain_text(line, LONGEST_NOTE) for line in note.splitlines()).strip() or None
    _say(book, number, {"note": text})


def correct_flight(
    book: Book, number: int, corrections: Mapping[str, str | None], is_flight: bool | None = None
) -> None:
    """Say in place of the log who flew what from where to where, and whether it was a flight at all.

    Parameters
    ----------
    book : Book
        From `open_book`.
    number : int
        Of the flight in the logbook.
    corrections : mapping
        Of `CORRECTIONS`; None gives back what the log says.
    is_flight : bool, optional
        False leaves it out of lists and totals.

    Raises
    ------
    BookError
        There is no such flight.
    """
    said: dict[str, Any] = {
        name: None if text is None else plain_text(text) or None for name, text in corrections.items()
    }
    if is_flight is not None:
        said["is_flight"] = int(is_flight)
    unknown = set(corrections) - set(CORRECTIONS)
    if unknown:
        raise ValueError(f"no corrections: {sorted(unknown)}")
    _say(book, number, said)


def _say(book: Book, number: int, said: Mapping[str, Any]) -> None:
    """Keep what was said about a flight; a row that says nothing any more goes."""
    flight = logged_flight(book, number)
    with book.writing() as database:
        database.execute(
            "INSERT INTO remarks (flight, log_id, takeoff_s) VALUES (?, ?, ?) ON CONFLICT (flight) DO NOTHING",
            (number, flight.log_id, flight.takeoff_s),
        )
        for name, value in said.items():  # names of this module alone
            database.execute(f"UPDATE remarks SET {name} = ? WHERE flight = ?", (value, number))  # noqa: S608
        database.execute(
            "DELETE FROM remarks WHERE flight = ? AND is_flight"
            " AND COALESCE(note, pilot, wing, takeoff_place, landing_place) IS NULL",
            (number,),
        )


def numbers_for(database: sqlite3.Connection, log_id: int, takeoffs_s: list[float]) -> list[int | None]:
    """The numbers that flights found anew keep: those of the flights, or remarks, nearest in take-off.

    Parameters
    ----------
    database : sqlite3.Connection
        Inside a transaction.
    log_id : int
        Their log.
    takeoffs_s : list of float
        Their take-offs, seconds since 1970-01-01 UTC.

    Returns
    -------
    list of int or None
        One for each; None: a flight that was not known before. No number is given twice.
    """
    known = database.execute(
        "SELECT id, takeoff_s FROM flights WHERE log_id = :log"
        " UNION SELECT flight, takeoff_s FROM remarks WHERE log_id = :log"
        " AND flight NOT IN (SELECT id FROM flights)",
        {"log": log_id},
    ).fetchall()
    pairs = sorted(
        (abs(takeoff_s - before_s), at, number)
        for at, takeoff_s in enumerate(takeoffs_s)
        for number, before_s in known
        if abs(takeoff_s - before_s) <= SAME_TAKEOFF_S
    )
    found: dict[int, int] = {}
    for _, at, number in pairs:
        if at not in found and number not in found.values():
            found[at] = number
    return [found.get(at) for at in range(len(takeoffs_s))]
