"""Analysing the kept logs again, after an upgrade or with other places, from their original bytes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from flightlog.errors import BookError
from flightlog.logbook.adding import insert_flight, recipe_number
from flightlog.logbook.entries import LogEntry
from flightlog.logbook.opening import Book
from flightlog.logbook.packing import unpacked_log, unpacked_text
from flightlog.logbook.recipes import KeptRecipe, recipe_bytes, recipe_from
from flightlog.logbook.remarks import numbers_for
from flightlog.places import Place
from flightlog.tracks.reading import LogSource
from flightlog.wings import Wing

__all__ = ["KeptLog", "all_logs", "kept_logs", "mark_outdated", "outdated_logs", "renew_log"]


@dataclass(frozen=True)
class KeptLog:
    """A log with its bytes as the logbook keeps them, and how it was analysed."""

    log_id: int
    path: str  # its name
    source: LogSource
    recipe: KeptRecipe


def outdated_logs(book: Book, analysis: str) -> list[int]:
    """Numbers of the logs whose results another analysis made, or that are marked; in the order of adding."""
    return [row[0] for row in book.rows("SELECT id FROM logs WHERE analysis <> ? ORDER BY id", (analysis,))]


def all_logs(book: Book) -> list[int]:
    """Numbers of all logs, in the order of adding."""
    return [row[0] for row in book.rows("SELECT id FROM logs ORDER BY id")]


def kept_logs(book: Book, log_ids: Iterable[int], fail: Callable[[BookError], None]) -> Iterator[KeptLog]:
    """The logs, each read when it is asked for; `fail` is given what stands in the way of one that is damaged."""
    question = (
        "SELECT logs.name, logs.size_bytes, originals.content, recipes.content, recipes.size_bytes FROM logs"
        " JOIN originals ON originals.log_id = logs.id JOIN recipes ON recipes.id = logs.recipe_id"
        " WHERE logs.id = ?"
    )
    for log_id in log_ids:
        row = book.row(question, (log_id,))
        if row is None:  # removed meanwhile
            continue
        name, size_bytes, original, *recipe = row
        try:
            kept = recipe_from(unpacked_text(*recipe))
            data = unpacked_log(original, size_bytes)
        except BookError as error:
            fail(BookError(error.found, error.advice, name))
            continue
        yield KeptLog(log_id, name, LogSource(name, name, data=data, columns=kept.columns), kept)


def mark_outdated(
    book: Book,
    log_ids: Sequence[int],
    *,
    places: tuple[Place, ...] | None = None,
    wing: Wing | None = None,
    wing_class: str | None = None,
) -> None:
    """Have these logs analysed again by the next renewal, with other places or another wing where those are given.

    A wing given without a `wing_class` brings its own.
    It is one transaction: a renewal that is stopped goes on where it was.
    """
    with book.writing() as database:
        for log_id in log_ids:
            row = database.execute(
                "SELECT content, recipes.size_bytes FROM recipes JOIN logs ON recipes.id = recipe_id"
                " WHERE logs.id = ?",
                (log_id,),
            ).fetchone()
            if row is None:
                continue
            kept = recipe_from(unpacked_text(*row))
            kept = replace(
                kept,
                places=kept.places if places is None else places,
                wing=wing or kept.wing,
                wing_class=wing_class or (None if wing else kept.wing_class),
            )
            values = (recipe_number(database, recipe_bytes(kept)), log_id)
            database.execute("UPDATE logs SET analysis = '', recipe_id = ? WHERE id = ?", values)
        database.execute("DELETE FROM recipes WHERE id NOT IN (SELECT recipe_id FROM logs)")


def renew_log(book: Book, log_id: int, entry: LogEntry) -> bool:
    """Put new results of a log in place of the old ones, in one transaction; the pilot's remarks stay.

    A flight that takes off when one did before keeps its number, and so its remarks. False: the log was removed
    meanwhile.
    """
    with book.writing() as database:
        done = database.execute(
            "UPDATE logs SET analysis = ?, date = ? WHERE id = ?", (entry.analysis, entry.date, log_id)
        )
        if done.rowcount == 0:
            return False
        database.execute(
            "UPDATE results SET size_bytes = ?, content = ? WHERE log_id = ?",
            (entry.result_bytes, entry.result, log_id),
        )
        takeoffs = [flight.facts.takeoff_s for flight in entry.flights]
        numbers = numbers_for(database, log_id, takeoffs)
        database.execute("DELETE FROM flights WHERE log_id = ?", (log_id,))
        for number, flight in zip(numbers, entry.flights, strict=True):
            keys = {"log_id": log_id} if number is None else {"id": number, "log_id": log_id}
            insert_flight(database, keys, flight)
            database.execute("UPDATE remarks SET takeoff_s = ? WHERE flight = ?", (flight.facts.takeoff_s, number))
    return True
