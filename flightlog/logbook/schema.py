"""The tables of the logbook, their versions, and the ways from one to the next."""

from __future__ import annotations

import sqlite3
from pathlib import Path

APPLICATION_ID = 0x464C4C47
"""`FLLG` in the header of the file (PRAGMA application_id): no other program's database is taken for a logbook."""
VERSION = 1
"""Of the tables (PRAGMA user_version); raised by every change of theirs."""
SCHEMA_FOLDER = Path(__file__).parent / "schemas"


def schema_sql(version: int) -> str:
    """The statements that make the tables of that version in an empty database."""
    return (SCHEMA_FOLDER / f"version_{version}.sql").read_text(encoding="utf-8")


def make_tables(database: sqlite3.Connection, version: int = VERSION) -> None:
    """Make the tables of a version in an empty database, and mark it as a logbook."""
    database.executescript(schema_sql(version))
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    database.execute(f"PRAGMA user_version = {version}")
