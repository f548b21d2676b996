"""Nothing is lost: processes killed in the middle, a full disk, several at once.

`crash_book.py` does it in processes of its own, which are forked once the program is loaded.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

from flightlog.errors import BookError
from flightlog.logbook.checking import faults_of_file, faults_of_logs
from flightlog.logbook.opening import open_book
from tests.unit.made_book import entries_like, fill, small_entry

ROOT = Path(__file__).parents[2]


def told_by(task: str, folder: Path, count: int, size_bytes: int) -> dict[str, int]:
    """What `crash_book.py` counted."""
    with (folder / "entries").open("wb") as file:
        pickle.dump(entries_like(small_entry(), count, size_bytes), file)
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-m", "tests.unit.crash_book", task, str(folder / "book.db"), str(folder / "entries")]
    result = subprocess.run(
        words, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120, check=False
    )
    assert result.returncode == 0, result.stderr
    return {name: int(value) for name, value in (line.split() for line in result.stdout.splitlines())}


def sound_logs(file: Path) -> int:
    """How many logs a logbook without any fault holds."""
    with open_book(file) as book:
        assert faults_of_file(book) == []
        faults = list(faults_of_logs(book))
    assert set(faults) <= {None}
    return len(faults)


def test_processes_killed_in_the_middle_lose_nothing(tmp_path: Path) -> None:
    told = told_by("kill", tmp_path, 60, 200_000)
    assert told["killed"] >= 10
    assert told["in_the_middle"] >= 2  # a journal lay there: the transaction was under way
    assert told["lost"] == 0
    assert sound_logs(tmp_path / "book.db") == 60  # and the last run did the rest
    left = [path for path in tmp_path.iterdir() if path.name not in ("book.db", "entries")]
    for draft in left:  # of processes killed while they made the file: cleared away after an hour
        assert draft.name.startswith(".flightlog-book-")
        os.utime(draft, (1.0, 1.0))
    open_book(tmp_path / "another.db", create=True).close()
    assert not any(draft.exists() for draft in left)


def test_the_system_refuses_to_write_more(tmp_path: Path) -> None:
    told = told_by("full", tmp_path, 30, 100_000)
    assert 1 <= told["before"] < 30
    assert told["errors"] == 1
    assert sound_logs(tmp_path / "book.db") == 30


def test_two_at_once_wait_for_each_other(tmp_path: Path) -> None:
    told = told_by("together", tmp_path, 40, 20_000)
    assert told == {"first": 0, "second": 0}  # exit statuses
    assert sound_logs(tmp_path / "book.db") == 40


def test_a_full_database_keeps_what_it_has(tmp_path: Path) -> None:
    file = tmp_path / "book.db"
    entries = entries_like(small_entry(), 12, 50_000)
    with open_book(file, create=True) as book:
        fill(book, *entries[:3])
        with book.writing() as database:
            (pages,) = database.execute("PRAGMA page_count").fetchone()
            database.execute(f"PRAGMA max_page_count = {pages + 20}")
        with pytest.raises(BookError, match=r"database or disk is full\); make room on the disk"):
            fill(book, *entries[3:])
        assert faults_of_file(book) == []
        (kept,) = book.row("SELECT count(*) FROM logs")
    assert kept in (4, 5)  # 20 pages of 4 kB hold one more log
    with open_book(file) as book:
        fill(book, *entries[kept:])
    assert sound_logs(file) == 12
