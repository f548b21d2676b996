"""Nothing is lost: processes killed in the middle, a full disk, several at once.

`crash_book.py` does it in processes of its own, which are forked once the program is loaded.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from flightlog.errors import BookError
from flightlog.logbook.checking import faults_of_file, faults_of_logs
from flightlog.logbook.opening import open_book
from tests.unit.made_book import entries_like, fill, small_entry

ROOT = Path(__file__).parents[2]
LOGS = {"kill": (40, 200_000), "halfway": (4, 100_000), "full": (20, 100_000), "together": (30, 10_000)}
"""Task -> how many logs it adds, and how large they are."""


@dataclass(frozen=True)
class Told:
    """What `crash_book.py` counted, and where the logbooks are."""

    folder: Path
    counts: dict[str, dict[str, int]]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Told:
    """All that is tried in processes of their own."""
    folder = tmp_path_factory.mktemp("books")
    for name, (count, size_bytes) in LOGS.items():
        with (folder / f"{name}.entries").open("wb") as file:
            pickle.dump(entries_like(small_entry(), count, size_bytes), file)
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": str(ROOT)}
    words = [sys.executable, "-m", "tests.unit.crash_book", str(folder)]
    result = subprocess.run(
        words, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=240, check=False
    )
    assert result.returncode == 0, result.stderr
    counts: dict[str, dict[str, int]] = {}
    for line in result.stdout.splitlines():
        name, what, value = line.split()
        counts.setdefault(name, {})[what] = int(value)
    return Told(folder, counts)


def sound_logs(file: Path) -> int:
    """How many logs a logbook without any fault holds."""
    with open_book(file) as book:
        assert faults_of_file(book) == []
        faults = list(faults_of_logs(book))
    assert set(faults) <= {None}
    return len(faults)


def test_processes_killed_in_the_middle_lose_nothing(told: Told) -> None:
    counts = told.counts["kill"]
    assert counts["killed"] >= 8
    assert counts["in_the_middle"] >= 2  # a journal lay there: the transaction was under way
    assert counts["lost"] == 0
    assert sound_logs(told.folder / "kill.db") == LOGS["kill"][0]  # and the last run did the rest


def test_a_commit_broken_off_halfway_is_undone(told: Told) -> None:
    counts = told.counts["halfway"]
    assert counts["killed"] == 1
    assert counts["missing"] > 0  # the header spoke of pages that were never written
    assert counts["there"] == 2
    assert counts["after"] == 0
    assert sound_logs(told.folder / "halfway.db") == LOGS["halfway"][0]


def test_drafts_of_killed_processes_are_cleared_away(tmp_path: Path) -> None:
    fresh, stale = tmp_path / ".flightlog-book-1.tmp", tmp_path / ".flightlog-book-2.tmp"
    for draft in (fresh, stale):
        draft.write_bytes(b"half")
    os.utime(stale, (1.0, 1.0))
    open_book(tmp_path / "book.db", create=True).close()
    assert (fresh.exists(), stale.exists()) == (True, False)


def test_the_system_refuses_to_write_more(told: Told) -> None:
    counts = told.counts["full"]
    assert 1 <= counts["before"] < LOGS["full"][0]
    assert counts["errors"] == 1
    assert sound_logs(told.folder / "full.db") == LOGS["full"][0]


def test_two_at_once_wait_for_each_other(told: Told) -> None:
    assert told.counts["together"] == {"first": 0, "second": 0}  # exit statuses
    assert sound_logs(told.folder / "together.db") == LOGS["together"][0]


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
