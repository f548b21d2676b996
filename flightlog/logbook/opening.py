"""The file of the logbook: where it lies, how it is made and opened, and how one writes to it.

One SQLite file with a rollback journal, not a write-ahead log: at rest the logbook is one file, to be copied and
backed up as one, and nothing of it lies in shared memory, which a folder on a network does not have
(sqlite.org/wal.html, "All processes using a database must be on the same host computer"). Writers wait for each
other; each transaction is one log. `synchronous = EXTRA` makes a commit last through a loss of power.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from flightlog.errors import BookError
from flightlog.logbook.files import (
    code_of,
    connection,
    copy_of,
    default_book,
    known_version,
    make_file,
    refuse_other_files,
)
from flightlog.logbook.schema import VERSION, upgrade, version_of

PATIENCE_S = 300.0
"""How long another program may hold the logbook; one log takes it a fraction of a second."""
SETTINGS = (
    "foreign_keys = ON",
    "synchronous = EXTRA",
    "secure_delete = ON",  # what is removed is overwritten
    "trusted_schema = OFF",  # a logbook may come from somebody else
    "cell_size_check = ON",
)
"""What every use of the database needs."""

Tell = Callable[[str], None]
Result = TypeVar("Result")


class Book:
    """An open logbook; use it in a `with` statement."""

    def __init__(self, path: Path, database: sqlite3.Connection, tell: Tell) -> None:
        self.path = path
        self._database = database
        self._tell = tell

    def __enter__(self) -> Book:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._database.close()

    def version(self) -> int:
        """Version of the tables; what a program that was killed left half-written is put right first."""
        with self._plain_errors():
            return self._patiently(lambda: known_version(self._database, self.path))

    def rows(self, statement: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[tuple[Any, ...]]:
        """All rows that a question to the database gives; it waits for those who write."""
        with self._plain_errors():
            return self._patiently(lambda: self._database.execute(statement, values).fetchall())

    def row(self, statement: str, values: Sequence[Any] | dict[str, Any] = ()) -> tuple[Any, ...] | None:
        """The first row, or None."""
        found = self.rows(statement, values)
        return found[0] if found else None

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all that is done in it is kept, or nothing.

        Raises
        ------
        BookError
            The disk is full, the file cannot be written, or another program holds it for minutes.
        """
        with self._plain_errors():
            self._patiently(lambda: self._database.execute("BEGIN IMMEDIATE"))
            try:
                yield self._database
                self._patiently(lambda: self._database.execute("COMMIT"))
            except BaseException:
                if self._database.in_transaction:
                    self._database.rollback()
                raise

    def _patiently(self, step: Callable[[], Result]) -> Result:
        """The result of a step, tried again while another program holds the file."""
        began = time.monotonic()
        told = False
        while True:
            try:
                return step()
            except sqlite3.OperationalError as error:
                if code_of(error) not in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
                    raise
                if time.monotonic() - began > PATIENCE_S:
                    raise BookError(
                        "another program holds the logbook", "end it, then try again", self.path
                    ) from error
                if not told:
                    self._tell(f"{self.path}: another program is writing to the logbook; waiting for it")
                    told = True

    @contextmanager
    def _plain_errors(self) -> Iterator[None]:
        """Errors of the database in a line that says what to do."""
        try:
            yield
        except sqlite3.Error as error:
            raise _book_error(error, self.path) from error
        except UnicodeDecodeError as error:  # of a message about a name that is damaged
            raise BookError("the logbook is damaged", "take the file from a backup", self.path) from error


def open_book(path: Path | str | None = None, *, create: bool = False, tell: Tell = lambda _: None) -> Book:
    """Open a logbook.

    Parameters
    ----------
    path : path, optional
        The file; `default_book()` without it.
    create : bool
        Make an empty logbook, and its folder, where none is.
    tell : function
        Is given a line when the work has to wait.

    Raises
    ------
    BookError
        There is no logbook, the file is something else, or it is of a newer flightlog; it is left as it is.
    """
    file = default_book() if path is None else Path(path)
    try:
        if not file.exists():
            if not create:
                raise BookError("there is no logbook yet", "make one: flightlog book add LOG...", file)
            make_file(file)
        refuse_other_files(file)
        book = Book(file, connection(file), tell)
        with _closed_on_error(book):
            for setting in SETTINGS:  # some of them read the file, and wait for who is writing
                book.rows(f"PRAGMA {setting}")
            if book.version() < VERSION:
                _bring_up_to_date(book, tell)
        return book
    except sqlite3.Error as error:
        raise _book_error(error, file) from error
    except OSError as error:
        raise BookError(
            f"the logbook cannot be opened ({error.strerror or error})", "check its name and rights", file
        ) from error


@contextmanager
def _closed_on_error(book: Book) -> Iterator[None]:
    try:
        yield
    except BaseException:
        book.close()
        raise


def _bring_up_to_date(book: Book, tell: Tell) -> None:
    """Upgrade the tables of an older logbook in one transaction, once a copy of the file is made."""
    with book.writing() as database:
        since = version_of(database)
        if since == VERSION:  # another program was faster
            return
        copy = copy_of(book.path, since)
        upgrade(database, since)
        wrong = database.execute("PRAGMA foreign_key_check").fetchone()
        if wrong:
            raise BookError("the logbook holds rows that belong to nothing", "take it from a backup", book.path)
    tell(f"{book.path}: brought up to date; the logbook as it was before is {copy}")


def _book_error(error: sqlite3.Error, path: Path) -> BookError:
    """What a fault of the database means for the user."""
    code = code_of(error)
    advice = {
        sqlite3.SQLITE_FULL: "make room on the disk, then do the same again: what was done before is whole",
        sqlite3.SQLITE_IOERR: "check the disk, then do the same again: what was done before is whole",
        sqlite3.SQLITE_READONLY: "check the rights of the file and its folder",
        sqlite3.SQLITE_CANTOPEN: "check its name and rights",
        sqlite3.SQLITE_CORRUPT: "take the file from a backup",
        sqlite3.SQLITE_NOTADB: "take the file from a backup",
    }.get(code, "see flightlog book check")
    return BookError(f"the logbook cannot be used ({error})", advice, path)
