"""Taking logs out of the logbook, with all that it knows of them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from flightlog.errors import BookError
from flightlog.logbook.files import copies_of
from flightlog.logbook.flights import LoggedFlight, Selection, logged_flights
from flightlog.logbook.opening import Book

FEWEST_DIGITS = 8
"""Of a digest by which a log may be named."""


@dataclass(frozen=True)
class Removal:
    """A log that is to go: what goes with it, and what is left elsewhere."""

    log_id: int
    sha256: str
    name: str
    flights: tuple[LoggedFlight, ...]
    remarks: int
    copies: tuple[Path, ...]  # of the whole logbook, from before it was brought up to date: they are left alone


def log_called(book: Book, name: str) -> int:
    """The number of the log with that name, digest (its first eight digits at least) or flight.

    Raises
    ------
    BookError
        There is none, or more than one.
    """
    found = book.rows("SELECT id, name, sha256 FROM logs WHERE name = ?", (name,))
    if not found and re.fullmatch(rf"[0-9a-f]{{{FEWEST_DIGITS},64}}", name):
        found = book.rows("SELECT id, name, sha256 FROM logs WHERE substr(sha256, 1, ?) = ?", (len(name), name))
    if not found and re.fullmatch(r"[0-9]{1,15}", name):
        found = book.rows(
            "SELECT logs.id, name, sha256 FROM logs JOIN flights ON flights.log_id = logs.id WHERE flights.id = ?",
            (int(name),),
        )
    if len(found) > 1:
        digests = ", ".join(row[2][:12] for row in found[:5])
        raise BookError(f"{len(found)} logs are called {name}", f"name one by its digest: {digests}", book.path)
    if not found:
        raise BookError(f"there is no log or flight {name[:80]}", "see flightlog book list --all", book.path)
    number: int = found[0][0]
    return number


def removal_of(book: Book, log_id: int) -> Removal:
    """What goes with a log."""
    row = book.row("SELECT sha256, name FROM logs WHERE id = ?", (log_id,))
    if row is None:
        raise BookError("the log was removed meanwhile", "nothing is left to do", book.path)
    flights = logged_flights(book, Selection(also_no_flights=True))
    count = book.row("SELECT count(*) FROM remarks WHERE log_id = ?", (log_id,))
    return Removal(
        log_id,
        str(row[0]),
        str(row[1]),
        tuple(flight for flight in flights if flight.log_id == log_id),
        count[0] if count else 0,
        tuple(copies_of(book.path)),
    )


def remove_logs(book: Book, log_ids: Sequence[int]) -> None:
    """Remove logs with their bytes, results, flights and remarks, all of them or none.

    What they took in the file is overwritten with zeros (`secure_delete`); the room is used again.
    """
    with book.writing() as database:
        database.executemany("DELETE FROM logs WHERE id = ?", [(log_id,) for log_id in log_ids])
        database.execute("DELETE FROM recipes WHERE id NOT IN (SELECT recipe_id FROM logs)")
