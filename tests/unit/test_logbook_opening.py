"""The file of the logbook: where it lies, what is left alone, and how an older one is brought up to date."""

from __future__ import annotations

import sqlite3
import threading
from pathlib import Path

import pytest

from flightlog.errors import BookError
from flightlog.logbook import files, opening
from flightlog.logbook.adding import add_log
from flightlog.logbook.checking import faults_of_file
from flightlog.logbook.opening import open_book
from flightlog.logbook.schema import APPLICATION_ID, VERSION, upgrade
from tests.unit.made_book import entries_like, fill, small_entry

VERSION_1_ROWS = """
INSERT INTO recipes VALUES (3, 'aa', 2, x'7801');
INSERT INTO logs VALUES (7, '0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef', 'old.igc',
    '2026-06-14', 3, 'My wing', '0.1.0+1', 3);
INSERT INTO originals VALUES (7, x'010203');
INSERT INTO results VALUES (7, 4, x'0405');
INSERT INTO flights VALUES (12, 7, 1, '2026-06-14', 'Europe/Oslo', 7200, 1781434861.5, 1781435100, 'Ada Example',
    'A wing', 'foot_launch', 'Hill', 60.5, 10.25, 800, 'top_landing', NULL, 60.5, 10.25, 790.5, 238.5, 2400, 55,
    860, 900.5, 1200.25, 2, 1);
INSERT INTO climbs VALUES (12, 1, 1781434900, 1781435000, 'circling', 50, 800, 850, 0.5, NULL, 'left');
INSERT INTO passes VALUES (12, 1, 'Hill', 1781435050, 1781435080, 'go_around', 'sure', 9.5, 12, NULL);
"""
"""Rows as version 1 held them; they stay as they are when the tables change."""


def old_book(path: Path, version: int) -> Path:
    """A logbook of an earlier version, made by the tables it had."""
    database = sqlite3.connect(path, isolation_level=None)
    upgrade(database, 0, version)
    database.executescript(VERSION_1_ROWS)
    database.close()
    return path


def content_of(path: Path) -> dict[str, list[tuple]]:
    """All rows of all tables."""
    database = sqlite3.connect(path)
    names = [
        row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    ]
    found = {name: database.execute(f"SELECT * FROM {name} ORDER BY 1, 2").fetchall() for name in names}  # noqa: S608
    database.close()
    return found


@pytest.mark.parametrize("version", range(1, VERSION))
def test_an_older_logbook_keeps_every_row(tmp_path: Path, version: int) -> None:
    file = old_book(tmp_path / "my.db", version)
    before, was = content_of(file), file.read_bytes()
    told: list[str] = []
    with open_book(file, tell=told.append) as book:
        assert book.rows("PRAGMA user_version") == [(VERSION,)]
        assert faults_of_file(book) == []
    after = content_of(file)
    assert {name: after[name] for name in before} == before
    copy = tmp_path / f"my.version-{version}.db"
    assert content_of(copy) == before
    assert told == [f"{file}: brought up to date; the logbook as it was before is {copy}"]
    assert files.copies_of(file) == [copy]
    file.write_bytes(was)  # an older one in the same place once more: no copy is lost
    open_book(file).close()
    assert files.copies_of(file) == [tmp_path / f"my.version-{version}-2.db", copy]


def test_an_upgrade_that_fails_leaves_the_old_logbook(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = old_book(tmp_path / "book.db", 1)
    was = file.read_bytes()

    def half(database: sqlite3.Connection, since: int) -> None:
        upgrade(database, since)
        database.execute("DELETE FROM flights")
        raise sqlite3.OperationalError("disk I/O error")

    monkeypatch.setattr(opening, "upgrade", half)
    with pytest.raises(BookError, match="disk I/O error"):
        open_book(file)
    assert file.read_bytes() == was


def test_older_and_fresh_tables_are_the_same(tmp_path: Path) -> None:
    open_book(old_book(tmp_path / "old.db", 1)).close()
    open_book(tmp_path / "new.db", create=True).close()
    schemas = []
    for name in ("old.db", "new.db"):
        database = sqlite3.connect(tmp_path / name)
        schemas.append(database.execute("SELECT type, name, sql FROM sqlite_master ORDER BY name").fetchall())
        schemas[-1] += database.execute("PRAGMA application_id").fetchall()
        database.close()
    assert schemas[0] == schemas[1]
    assert schemas[0][-1] == (APPLICATION_ID,)


@pytest.mark.parametrize(
    ("application", "version", "said"),
    [
        (0, 1, "no logbook of flightlog"),
        (77, VERSION, "no logbook of flightlog"),
        (APPLICATION_ID, VERSION + 1, "a newer flightlog made this logbook"),
    ],
)
def test_other_and_newer_databases_are_left_alone(
    tmp_path: Path, application: int, version: int, said: str
) -> None:
    file = tmp_path / "other.db"
    database = sqlite3.connect(file)
    database.executescript("CREATE TABLE mine (x); INSERT INTO mine VALUES (1);")
    database.execute(f"PRAGMA application_id = {application}")
    database.execute(f"PRAGMA user_version = {version}")
    database.close()
    was = file.read_bytes()
    with pytest.raises(BookError, match=said) as caught:
        open_book(file, create=True)
    assert str(caught.value).startswith(f"{file}:1: ")
    assert "left alone" in str(caught.value)
    assert file.read_bytes() == was
    assert [path.name for path in tmp_path.iterdir()] == ["other.db"]


def test_where_the_logbook_lies(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("FLIGHTLOG_BOOK", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    monkeypatch.setattr(files.sys, "platform", "linux")
    assert files.default_book() == tmp_path / "data" / "flightlog" / "logbook.db"
    monkeypatch.setenv("XDG_DATA_HOME", "relative")  # XDG Base Directory Specification 0.8: to be ignored
    assert files.default_book() == tmp_path / ".local" / "share" / "flightlog" / "logbook.db"
    monkeypatch.setattr(files.sys, "platform", "darwin")
    assert files.default_book() == tmp_path / "Library" / "Application Support" / "flightlog" / "logbook.db"
    monkeypatch.setattr(files.sys, "platform", "win32")
    assert files.default_book() == tmp_path / "local" / "flightlog" / "logbook.db"
    monkeypatch.setenv("FLIGHTLOG_BOOK", str(tmp_path / "club.db"))
    assert files.default_book() == tmp_path / "club.db"


def test_a_folder_and_a_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(BookError, match="this is no file"):
        open_book(tmp_path)
    with open_book(tmp_path / "new" / "folder" / "book.db", create=True) as book:
        assert book.rows("SELECT count(*) FROM logs") == [(0,)]
    assert [path.name for path in (tmp_path / "new" / "folder").iterdir()] == ["book.db"]  # at rest it is one file
    (tmp_path / "file").write_text("mine")
    with pytest.raises(BookError, match="cannot be opened"):
        open_book(tmp_path / "file" / "book.db", create=True)


def test_a_logbook_that_someone_else_made_meanwhile_stays(tmp_path: Path) -> None:
    file = tmp_path / "book.db"
    with open_book(file, create=True) as book:
        fill(book, small_entry())
    files.make_file(file)
    with open_book(file) as book:
        assert book.rows("SELECT count(*) FROM logs") == [(1,)]


def test_who_writes_waits_for_the_other_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "WAIT_S", 0.05)
    file = tmp_path / "book.db"
    first, second = entries_like(small_entry(), 2)
    open_book(file, create=True).close()
    is_held, told = threading.Event(), threading.Event()

    def hold() -> None:
        with open_book(file) as book, book.writing() as database:
            database.execute("UPDATE logs SET name = name")
            is_held.set()
            told.wait(20)

    holder = threading.Thread(target=hold)
    holder.start()
    is_held.wait(20)
    said: list[str] = []

    def tell(text: str) -> None:
        said.append(text)
        told.set()

    with open_book(file, tell=tell) as book:
        assert add_log(book, first)
        assert add_log(book, second)
    holder.join()
    assert said == [f"{file}: another program is writing to the logbook; waiting for it"]


def test_patience_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "WAIT_S", 0.01)
    monkeypatch.setattr(opening, "PATIENCE_S", 0.05)
    file = tmp_path / "book.db"
    with open_book(file, create=True) as holder, holder.writing(), open_book(file) as book:
        with pytest.raises(BookError, match="another program holds the logbook"):
            fill(book, small_entry())
        assert book.rows("SELECT count(*) FROM logs") == [(0,)]  # reading goes on
