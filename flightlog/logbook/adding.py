"""Putting logs into the logbook, each in one transaction."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from flightlog.logbook.entries import ClimbFacts, FlightEntry, FlightFacts, LogEntry, PassFacts
from flightlog.logbook.opening import Book
from flightlog.logbook.packing import packed_text


def known_name(book: Book, sha256: str) -> str | None:
    """The name under which the logbook knows a log with that digest; None where it does not."""
    found = book.row("SELECT name FROM logs WHERE sha256 = ?", (sha256,))
    return found[0] if found else None


def add_log(book: Book, entry: LogEntry, *, wing_name: str | None = None) -> bool:
    """Put a log with its flights into the logbook, whole or not at all.

    Parameters
    ----------
    book : Book
        From `open_book`.
    entry : LogEntry
        The debriefed log.
    wing_name : str, optional
        What the pilot calls the wing, before what the log says.

    Returns
    -------
    bool
        False where another program put the same log in meanwhile: nothing is changed then.

    Raises
    ------
    BookError
        It cannot be written; nothing of the log is in the logbook then.
    """
    with book.writing() as database:
        recipe = recipe_number(database, entry.recipe)
        values = (entry.sha256, entry.name, entry.date, entry.original_bytes, wing_name, entry.analysis, recipe)
        made = database.execute(
            "INSERT INTO logs (sha256, name, date, size_bytes, wing_name, analysis, recipe_id)"
            " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING",
            values,
        )
        if made.rowcount == 0:
            return False
        log = made.lastrowid
        database.execute("INSERT INTO originals (log_id, content) VALUES (?, ?)", (log, entry.original))
        database.execute(
            "INSERT INTO results (log_id, size_bytes, content) VALUES (?, ?, ?)",
            (log, entry.result_bytes, entry.result),
        )
        for flight in entry.flights:
            insert_flight(database, {"log_id": log}, flight)
    return True


def recipe_number(database: sqlite3.Connection, content: bytes) -> int:
    """The number of a recipe, which is kept once for all logs that share it."""
    digest = hashlib.sha256(content).hexdigest()
    database.execute(
        "INSERT INTO recipes (sha256, size_bytes, content) VALUES (?, ?, ?) ON CONFLICT (sha256) DO NOTHING",
        (digest, len(content), packed_text(content)),
    )
    number: int = database.execute("SELECT id FROM recipes WHERE sha256 = ?", (digest,)).fetchone()[0]
    return number


def insert_flight(database: sqlite3.Connection, keys: dict[str, Any], flight: FlightEntry) -> None:
    """The rows of a flight, its climbs and its passes; `keys` has its log and, where it keeps one, its number."""
    made = database.execute(
        _insertion("flights", (*keys, *_columns(FlightFacts))), (*keys.values(), *_values(flight.facts))
    )
    number = keys.get("id", made.lastrowid)
    for table, kind, rows in (("climbs", ClimbFacts, flight.climbs), ("passes", PassFacts, flight.passes)):
        statement = _insertion(table, ("flight_id", *_columns(kind)))
        database.executemany(statement, [(number, *_values(row)) for row in rows])


def _columns(kind: type) -> tuple[str, ...]:
    """Columns of a table by the class of its rows."""
    return tuple(field.name for field in fields(kind))


def _values(row: Any) -> tuple[Any, ...]:
    """The values of a row in the order of its columns."""
    return tuple(getattr(row, name) for name in _columns(type(row)))


def _insertion(table: str, columns: Sequence[str]) -> str:
    """The statement that adds a row; table and columns are names of this program, never of a user."""
    places = ", ".join("?" * len(columns))
    return f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({places})"  # noqa: S608
