"""Logbooks for tests: made of small logs, each with one short flight."""

from __future__ import annotations

from pathlib import Path

from flightlog.batch import Recipe
from flightlog.logbook.adding import add_log
from flightlog.logbook.entries import LogEntry
from flightlog.logbook.opening import Book
from flightlog.tracks.reading import LogSource
from flightlog.writers.book_entries import entry_of_log
from tests.unit.small_logs import igc_text

SAMPLES = Path(__file__).parents[2] / "sample_tracks"


def small_entry(name: str = "monday.igc", **log: object) -> LogEntry:
    """The entry of a small log; `log` is for `igc_text`."""
    entry = entry_of_log(LogSource(name, name, data=igc_text(**log).encode()), Recipe())
    assert isinstance(entry, LogEntry), entry
    return entry


def fill(book: Book, *entries: LogEntry) -> None:
    """Add the entries to a logbook."""
    for entry in entries:
        assert add_log(book, entry)
