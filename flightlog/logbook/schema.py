"""The tables of the logbook, their versions, and the ways from one to the next."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

APPLICATION_ID = 0x464C4C47
"""`FLLG` in the header of the file (PRAGMA application_id): no other program's database is taken for a logbook."""
VERSION = 2
"""Of the tables (PRAGMA user_version); every change of theirs is a new version with a file of its own."""
SCHEMA_FOLDER = Path(__file__).parent / "schemas"


def upgrade(database: sqlite3.Connection, since: int, until: int = VERSION) -> None:
    """Bring the tables from one version to a later one, inside the transaction that the caller has begun.

    Version 0 is an empty database; `schemas/version_2.sql` leads from version 1 to version 2. The files of
    versions that were released are never changed again.
    """
    for version in range(since + 1, until + 1):
        text = (SCHEMA_FOLDER / f"version_{version}.sql").read_text(encoding="utf-8")
        for statement in _statements(text):
            database.execute(statement)
        database.execute(f"PRAGMA user_version = {version}")
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")


def version_of(database: sqlite3.Connection) -> int:
    """Version of the tables of a database."""
    version: int = database.execute("PRAGMA user_version").fetchone()[0]
    return version


def _statements(text: str) -> Iterator[str]:
    """The statements of a file, one at a time: a script as a whole would end the transaction it runs in."""
    begun = ""
    for line in text.splitlines(keepends=True):
        begun += line
        if sqlite3.complete_statement(begun):
            yield begun
            begun = ""
