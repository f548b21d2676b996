"""How recent the flying is: spans of days, local dates, wings; and totals of what is not known."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from flightlog.batch import Recipe
from flightlog.logbook.currency import ninety_days, recency_of, twelve_months
from flightlog.logbook.entries import LogEntry
from flightlog.logbook.flights import LoggedFlight, logged_flights
from flightlog.logbook.opening import open_book
from flightlog.logbook.totals import total_of, totals_by
from flightlog.tracks.reading import LogSource
from flightlog.writers.book_entries import entry_of_log
from tests.unit.made_book import fill, small_entry
from tests.unit.small_logs import gpx_text


@pytest.fixture(scope="module")
def flight(tmp_path_factory: pytest.TempPathFactory) -> LoggedFlight:
    with open_book(tmp_path_factory.mktemp("book") / "book.db", create=True) as book:
        fill(book, small_entry())
        return logged_flights(book)[0]


def on(flight: LoggedFlight, date: str | None, number: int, **other: object) -> LoggedFlight:
    """The flight on another day."""
    return replace(flight, flight=number, local_date=date, takeoff_s=1e9 + number, **other)


def test_spans_begin_where_the_calendar_says() -> None:
    day = datetime.date(2026, 3, 31)
    assert (day - ninety_days(day)).days + 1 == 90  # 31 + 28 + 31 days of 2026 so far
    assert ninety_days(day) == datetime.date(2026, 1, 1)
    assert twelve_months(day) == datetime.date(2025, 4, 1)
    for k in range(1500):  # always a whole year, whatever the leap days
        day = datetime.date(2023, 1, 1) + datetime.timedelta(k)
        assert (day - twelve_months(day)).days + 1 in (365, 366)


def test_first_and_last_days_count_and_others_do_not(flight: LoggedFlight) -> None:
    days = ("2025-06-14", "2025-06-15", "2026-03-16", "2026-03-17", "2026-06-14", "2026-06-15", None)
    flights = [on(flight, date, number) for number, date in enumerate(days, start=1)]
    flights[3] = replace(flights[3], landing_kind="top_landing", wing="Old wing")
    flights[4] = replace(flights[4], landing_kind="end_of_log")
    whole, wings = recency_of(flights, datetime.date(2026, 6, 14))
    assert (whole.last_flight, whole.last_date, whole.days_since) == (5, "2026-06-14", 0)
    near, year = whole.last_90_days, whole.last_12_months
    assert (near.since, near.flights, near.landings, near.top_landings) == ("2026-03-17", 2, 1, 1)
    assert (year.since, year.flights, year.landings) == ("2025-06-15", 4, 3)
    assert near.airborne_s == pytest.approx(2 * flight.duration_s)
    assert [(one.wing, one.last_date) for one in wings] == [
        (flight.wing, "2026-06-14"),
        ("Old wing", "2026-03-17"),
    ]
    assert sum(one.last_12_months.flights for one in wings) == year.flights
    nothing, none = recency_of(flights[5:], datetime.date(2026, 6, 14))
    assert (nothing.last_date, nothing.days_since, nothing.last_90_days.flights, none) == (None, None, 0, ())


def test_days_are_those_of_the_place(tmp_path: Path) -> None:
    late = gpx_text().replace("T11:", "T22:").encode()  # 22:01 UTC in June at 46 N 8 E is past midnight, UTC+2
    entry = entry_of_log(LogSource("late.gpx", "late.gpx", data=late), Recipe())
    assert isinstance(entry, LogEntry)
    assert entry.date == "2026-06-14"
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, entry)
        (flight,) = logged_flights(book)
    assert flight.local_date == "2026-06-15"
    before, _ = recency_of([flight], datetime.date(2026, 6, 14))
    after, _ = recency_of([flight], datetime.date(2026, 6, 15))
    assert (before.last_date, after.last_date) == (None, "2026-06-15")


def test_sums_say_what_they_leave_out(flight: LoggedFlight) -> None:
    flights = [
        on(flight, "2026-06-14", 1, gain_m=100.0, takeoff_place="Hill"),
        on(flight, "2026-06-15", 2, gain_m=None, takeoff_place="hill"),
        on(flight, None, 3, gain_m=50.0, takeoff_place=None),
    ]
    whole = total_of(None, flights)
    assert (whole.flights, whole.gain_m, whole.note) == (3, 150.0, "the gain of 1 of 3 flights is not known")
    assert (whole.first_date, whole.last_date) == ("2026-06-14", "2026-06-15")
    assert [total.key for total in totals_by("place", flights)] == ["Hill", "hill", None]
    assert [total.key for total in totals_by("month", flights)] == ["2026-06", None]
    for way in ("month", "year", "place", "wing"):
        assert sum(total.flights for total in totals_by(way, flights)) == 3
    assert total_of(None, [replace(flights[1], open_distance_m=None)]).gain_m is None
