"""What the logbook gives back: flights as rows, results as they were, chosen by date and name."""

from __future__ import annotations

import datetime
import json
from pathlib import Path

import pytest

import flightlog
from flightlog.batch import Recipe
from flightlog.logbook.flights import Selection, logged_flights
from flightlog.logbook.opening import open_book
from flightlog.logbook.reading import booked_logs
from flightlog.tracks.reading import find_logs
from flightlog.writers.book_entries import entry_of_log
from flightlog.writers.json_results import encoded
from tests.unit.made_book import SAMPLES, fill, small_entry

DAY = SAMPLES / "top-landing-day.igc"


def test_results_come_back_as_they_are_published(tmp_path: Path) -> None:
    places = flightlog.read_places(SAMPLES / "places.geojson")
    entry = entry_of_log(next(find_logs([DAY])), Recipe(places=places))
    day = flightlog.debrief(flightlog.read_track(DAY), places=places)
    with open_book(tmp_path / "my book?#.db", create=True) as book:
        fill(book, entry)
        (log,) = booked_logs(book)
    published = json.loads(flightlog.writers.json_results.debrief_json(day))
    assert json.loads(encoded(log.result, 0)) == published
    assert [flight.logged.go_arounds for flight in log.flights] == [3, 0]  # as the sample's README says
    assert [flight.result.landing.kind for flight in log.flights] == ["top_landing", "landing"]
    assert log.flights[0].note is None


def test_flights_come_in_order_of_takeoff_with_their_local_dates(tmp_path: Path) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, small_entry("b.igc", date="150626"), small_entry("a.igc", date="140625", seed=1))
        flights = logged_flights(book)
        assert [flight.local_date for flight in flights] == ["2025-06-14", "2026-06-15"]
        assert flights[0].zone in ("Europe/Rome", "Europe/Zurich")  # 46 N 8 E, near the border
        assert flights[1].takeoff.isoformat().startswith("2026-06-15T13:01")  # summer time: UTC+2
        assert [one.log_file for one in logged_flights(book, Selection(year=2025))] == ["a.igc"]
        late = Selection(first=datetime.date(2026, 6, 15), last=datetime.date(2026, 6, 15))
        assert [one.log_file for one in logged_flights(book, late)] == ["b.igc"]
        assert logged_flights(book, Selection(pilot="ADA")) == flights
        assert logged_flights(book, Selection(wing="none such")) == []


def test_a_log_without_a_date_is_in_no_year(tmp_path: Path) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, small_entry(date=None))
        assert [flight.local_date for flight in logged_flights(book)] == [None]
        assert logged_flights(book, Selection(year=1970)) == []


def test_the_same_log_is_added_once(tmp_path: Path) -> None:
    from flightlog.logbook.adding import add_log, known_name

    entry = small_entry()
    with open_book(tmp_path / "book.db", create=True) as book:
        assert known_name(book, entry.sha256) is None
        assert add_log(book, entry)
        assert not add_log(book, entry)
        assert known_name(book, entry.sha256) == "monday.igc"
        assert len(logged_flights(book)) == 1


@pytest.mark.parametrize("content", [b"", b"not a database at all" * 10, b"SQLite format 3\x00" + bytes(200)])
def test_another_file_is_left_alone(tmp_path: Path, content: bytes) -> None:
    other = tmp_path / "book.db"
    other.write_bytes(content)
    with pytest.raises(flightlog.FlightlogError, match="no logbook of flightlog"):
        open_book(other, create=True)
    assert other.read_bytes() == content
    assert [path.name for path in tmp_path.iterdir()] == ["book.db"]
