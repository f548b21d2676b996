"""The file of the logbook: where it lies, how it is made and opened, and how one writes to it.

One SQLite file with a rollback journal, not a write-ahead log: at rest the logbook is one file, to be copied and
backed up as one, and nothing of it lies in shared memory, which a folder on a network does not have
(sqlite.org/wal.html, "All processes using a database must be on the same host computer"). Writers wait for each
other; each transaction is one log. `synchronous = EXTRA` makes a commit last through a loss of power.
"""

from __future__ import annotations

import os
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from flightlog.errors import BookError
from flightlog.logbook.schema import APPLICATION_ID, VERSION, make_tables

VARIABLE = "FLIGHTLOG_BOOK"
"""Environment variable that names the file."""
FILE_NAME = "logbook.db"
_MAGIC = b"SQLite format 3\x00"
_VERSION_AT, _APPLICATION_AT, _HEADER_BYTES = 60, 68, 100  # sqlite.org/fileformat2.html, section 1.3
_TELL_AFTER_S = 1.0
PATIENCE_S = 300.0
"""How long another program may hold the logbook; one log takes it a fraction of a second."""

Tell = Callable[[str], None]
Result = TypeVar("Result")


def default_book() -> Path:
    """Where the logbook lies unless told otherwise.

    `FLIGHTLOG_BOOK` names the file; without it, it lies in the user's data folder: `$XDG_DATA_HOME` or
    `~/.local/share` (XDG Base Directory Specification 0.8; a relative path there is passed over, as it asks),
    `~/Library/Application Support` on macOS, `%LOCALAPPDATA%` on Windows.
    """
    named = os.environ.get(VARIABLE, "")
    if named:
        return Path(named)
    return _data_folder(sys.platform) / "flightlog" / FILE_NAME


def _data_folder(platform: str) -> Path:
    """The user's data folder on that platform."""
    if platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if platform == "darwin":
        return Path.home() / "Library" / "Application Support"
    told = os.environ.get("XDG_DATA_HOME", "")
    return Path(told) if told and Path(told).is_absolute() else Path.home() / ".local" / "share"


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
                if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
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
            _make(file)
        _check_header(file)
        return Book(file, _connection(file), tell)
    except sqlite3.Error as error:
        raise _book_error(error, file) from error
    except OSError as error:
        raise BookError(
            f"the logbook cannot be opened ({error.strerror or error})", "check its name and rights", file
        ) from error


def _connection(file: Path) -> sqlite3.Connection:
    """The database, with what every use of it needs; the file must be there."""
    database = sqlite3.connect(
        f"{file.absolute().as_uri()}?mode=rw", uri=True, timeout=_TELL_AFTER_S, isolation_level=None
    )
    for setting in (
        "foreign_keys = ON",
        "synchronous = EXTRA",
        "secure_delete = ON",  # what is removed is overwritten
        "trusted_schema = OFF",  # a logbook may come from somebody else
        "cell_size_check = ON",
    ):
        database.execute(f"PRAGMA {setting}")
    return database


def _check_header(file: Path) -> None:
    """BookError unless the file is a logbook of a version that is known here; read without touching it."""
    with file.open("rb") as opened:
        head = opened.read(_HEADER_BYTES)
    application = int.from_bytes(head[_APPLICATION_AT : _APPLICATION_AT + 4], "big")
    if len(head) < _HEADER_BYTES or not head.startswith(_MAGIC) or application != APPLICATION_ID:
        raise BookError("this file is no logbook of flightlog", "name another --book; it was left alone", file)
    version = int.from_bytes(head[_VERSION_AT : _VERSION_AT + 4], "big")
    if not 1 <= version <= VERSION:
        found = f"a newer flightlog made this logbook (version {version} of its tables, {VERSION} is known here)"
        raise BookError(found, "install that flightlog; the file was left alone", file)


def _make(file: Path) -> None:
    """Make an empty logbook: beside its place, then moved there whole; one that somebody made meanwhile stays."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    draft = file.with_name(f".flightlog-book-{os.getpid()}.tmp")
    draft.unlink(missing_ok=True)
    try:
        database = sqlite3.connect(draft, isolation_level=None)
        try:
            make_tables(database)
        finally:
            database.close()
        try:
            os.link(draft, file)
        except FileExistsError:
            pass
        except OSError:  # a disk that knows no links
            if not file.exists():
                draft.replace(file)
    finally:
        draft.unlink(missing_ok=True)


def _book_error(error: sqlite3.Error, path: Path) -> BookError:
    """What a fault of the database means for the user."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    advice = {
        sqlite3.SQLITE_FULL: "make room on the disk, then do the same again: what was done before is whole",
        sqlite3.SQLITE_IOERR: "check the disk, then do the same again: what was done before is whole",
        sqlite3.SQLITE_READONLY: "check the rights of the file and its folder",
        sqlite3.SQLITE_CANTOPEN: "check its name and rights",
        sqlite3.SQLITE_CORRUPT: "take the file from a backup",
        sqlite3.SQLITE_NOTADB: "take the file from a backup",
    }.get(code, "see flightlog book check")
    return BookError(f"the logbook cannot be used ({error})", advice, path)
