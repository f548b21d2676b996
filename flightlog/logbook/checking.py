"""Is the logbook sound? The file, every original against its digest, every result, and what hangs loose."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from flightlog.errors import BookError
from flightlog.logbook.opening import Book
from flightlog.logbook.packing import unpacked_log
from flightlog.logbook.reading import debrief_result


@dataclass(frozen=True)
class Fault:
    """Something that is not as it should be; `log` is the name of the log it was met in, or None."""

    log: str | None
    message: str


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
