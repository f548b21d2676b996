"""Logbooks for tests: made of small logs, each with one short flight."""

from __future__ import annotations

import hashlib
import lzma
import random
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from flightlog.batch import Recipe
from flightlog.logbook.adding import add_log
from flightlog.logbook.entries import FlightEntry, LogEntry
from flightlog.logbook.opening import Book
from flightlog.logbook.packing import packed_text, unpacked_text
from flightlog.tracks.reading import LogSource
from flightlog.writers.book_entries import entry_of_log
from tests.unit.small_logs import igc_text

SAMPLES = Path(__file__).parents[2] / "sample_tracks"


def small_entry(name: str = "monday.igc", **log: object) -> LogEntry:
    """The entry of a small log; `log` is for `igc_text`."""
    entry = entry_of_log(LogSource(name, name, data=igc_text(**log).encode()), Recipe())
    assert isinstance(entry, LogEntry), entry
    return entry


def entries_like(entry: LogEntry, count: int, size_bytes: int = 0) -> list[LogEntry]:
    """Entries of logs with other bytes, `size_bytes` of them that cannot be packed, and the same results."""
    made = []
    chance = random.Random(1)
    for number in range(count):
        data = b"%d " % number + chance.randbytes(size_bytes)
        digest = hashlib.sha256(data).hexdigest()
        result = unpacked_text(entry.result, entry.result_bytes).replace(entry.sha256.encode(), digest.encode())
        made.append(
            replace(
                entry,
                sha256=digest,
                name=f"{number}.igc",
                original=lzma.compress(data, preset=0),
                original_bytes=len(data),
                result=packed_text(result),
                flights=tuple(_a_day_later(flight, number) for flight in entry.flights),
            )
        )
    return made


def _a_day_later(flight: FlightEntry, days: int) -> FlightEntry:
    """The flight so many days later."""
    facts = flight.facts
    day = date.fromisoformat(facts.local_date) + timedelta(days)
    moved = {"takeoff_s": facts.takeoff_s + 86400 * days, "landing_s": facts.landing_s + 86400 * days}
    return replace(flight, facts=replace(facts, local_date=day.isoformat(), **moved))


def fill(book: Book, *entries: LogEntry) -> None:
    """Add the entries to a logbook."""
    for entry in entries:
        assert add_log(book, entry)
