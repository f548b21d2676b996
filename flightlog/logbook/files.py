"""The file of the logbook on disk: where it lies, what it is, how it is made and copied."""

from __future__ import annotations

import contextlib
import os
import re
import sqlite3
import sys
import time
from pathlib import Path
from urllib.parse import quote

from flightlog.errors import BookError
from flightlog.logbook.schema import APPLICATION_ID, VERSION, upgrade, version_of

VARIABLE = "FLIGHTLOG_BOOK"
"""Environment variable that names the file."""
FILE_NAME = "logbook.db"
WAIT_S = 1.0
"""How long SQLite itself waits for another program, before it is told."""
_STALE_S = 3600.0


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


def refuse_other_files(file: Path) -> None:
    """BookError unless the file is a logbook of a version that is known here, or one that somebody is writing to.

    Only its header is read, without locks and without repair, so that what is no logbook stays as it is. SQLite
    itself reads it: to open the file beside SQLite would undo the locks of this process
    (sqlite.org/howtocorrupt.html, section 2.2). While a program writes, and after one was killed at it, the header
    may contradict the file: then `known_version` must tell, which waits and repairs.
    """
    if not file.is_file():
        raise BookError("this is no file", "name another --book", file)
    header = sqlite3.connect(f"{_address(file)}?mode=ro&immutable=1", uri=True)
    try:
        known_version(header, file)
    except sqlite3.DatabaseError as error:
        if code_of(error) not in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_BUSY):
            raise
    finally:
        header.close()


def known_version(database: sqlite3.Connection, file: Path) -> int:
    """Version of the tables; BookError unless it is a logbook of a version that is known here."""
    try:
        application = database.execute("PRAGMA application_id").fetchone()[0]
        version = version_of(database)
    except sqlite3.DatabaseError as error:
        if code_of(error) != sqlite3.SQLITE_NOTADB:
            raise
        application, version = 0, 0
    if application != APPLICATION_ID:
        raise BookError("this file is no logbook of flightlog", "name another --book; it was left alone", file)
    if not 1 <= version <= VERSION:
        found = f"a newer flightlog made this logbook (version {version} of its tables, {VERSION} is known here)"
        raise BookError(found, "install that flightlog; the file was left alone", file)
    return version


def connection(file: Path) -> sqlite3.Connection:
    """The database in a file that must be there; the file is read when the first question is asked."""
    database = sqlite3.connect(f"{_address(file)}?mode=rw", uri=True, timeout=WAIT_S, isolation_level=None)
    database.text_factory = lambda data: data.decode("utf-8", "replace")  # of a damaged file
    return database


def _address(file: Path) -> str:
    """The file as SQLite takes it (sqlite.org/uri.html); a share of Windows is a path too, not a host.

    >>> _address(Path("/my data/log?book.db"))
    'file:///my%20data/log%3Fbook.db'
    """
    path = file.absolute().as_posix()
    return f"file://{'' if path.startswith('/') else '/'}{quote(os.fsencode(path), safe='/:')}"


def code_of(error: sqlite3.Error) -> int:
    """Primary result code of an error (sqlite.org/rescode.html); 0 for those that Python adds."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def make_file(file: Path) -> None:
    """Make an empty logbook: beside its place, then moved there whole; one that somebody made meanwhile stays."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    draft = _draft_beside(file)
    try:
        database = sqlite3.connect(draft, isolation_level=None)
        try:
            database.execute("BEGIN IMMEDIATE")
            upgrade(database, 0)
            database.execute("COMMIT")
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


def copies_of(file: Path) -> list[Path]:
    """The copies of a logbook that were made before it was brought up to date."""
    pattern = re.compile(rf"{re.escape(file.stem)}\.version-\d+(-\d+)?{re.escape(file.suffix)}")
    return sorted(path for path in file.parent.iterdir() if pattern.fullmatch(path.name))


def copy_of(file: Path, version: int) -> Path:
    """Copy a logbook beside itself under a name that is free; nobody writes to it meanwhile."""
    names = [f"version-{version}", *(f"version-{version}-{number}" for number in range(2, 1000))]
    copy = next(
        path for name in names if not (path := file.with_name(f"{file.stem}.{name}{file.suffix}")).exists()
    )
    draft = _draft_beside(file)
    try:
        source, target = connection(file), sqlite3.connect(draft)
        try:
            source.backup(target)
        finally:
            source.close()
            target.close()
        draft.replace(copy)
    finally:
        draft.unlink(missing_ok=True)
    return copy


def _draft_beside(file: Path) -> Path:
    """A free name beside the logbook; what a process that was killed left there an hour ago is cleared away."""
    for left in file.parent.glob(".flightlog-book-*.tmp*"):
        with contextlib.suppress(OSError):  # another process clears away too
            if time.time() - left.stat().st_mtime > _STALE_S:
                left.unlink()
    draft = file.with_name(f".flightlog-book-{os.getpid()}.tmp")
    draft.unlink(missing_ok=True)
    return draft
