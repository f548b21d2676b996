"""Notes and corrections survive a new analysis; what fits no flight any more is kept and told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from flightlog.errors import BookError
from flightlog.logbook.checking import overlaps
from flightlog.logbook.entries import LogEntry
from flightlog.logbook.flights import Selection, logged_flights, names_in_log
from flightlog.logbook.opening import Book, open_book
from flightlog.logbook.packing import packed_text, unpacked_text
from flightlog.logbook.reading import booked_logs
from flightlog.logbook.remarks import (
    SAME_TAKEOFF_S,
    correct_flight,
    loose_remarks,
    note_flight,
    numbers_for,
    remarks,
)
from flightlog.logbook.removing import log_called, remove_logs
from flightlog.logbook.renewing import all_logs, kept_logs, mark_outdated, outdated_logs, renew_log
from flightlog.places import Place
from flightlog.settings import PARAGLIDER
from flightlog.wings import Wing
from flightlog.writers.book_entries import analysis_version, entry_of_kept_log
from tests.unit.made_book import entries_like, fill, small_entry


@pytest.fixture(scope="module")
def entry() -> LogEntry:
    return small_entry()


def shifted(entry: LogEntry, *seconds: float) -> LogEntry:
    """The log with a flight for each of these shifts of the take-off."""
    (flight,) = entry.flights
    flights = tuple(
        replace(flight, facts=replace(flight.facts, number=k, takeoff_s=flight.facts.takeoff_s + shift))
        for k, shift in enumerate(seconds, start=1)
    )
    return replace(entry, flights=flights, analysis="another")


def with_remarks(book: Book, entry: LogEntry) -> None:
    fill(book, entry)
    note_flight(book, 1, "Cloudbase\x1b[2J at last\n\nand a second line")
    correct_flight(book, 1, {"wing": "Old\x07 wing", "takeoff_place": "Long ridge", "pilot": None})


def test_a_small_shift_keeps_number_note_and_corrections(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        with_remarks(book, entry)
        assert renew_log(book, 1, shifted(entry, -500.0, 12.5, 600.0))
        flights = logged_flights(book)
        assert [flight.flight for flight in flights] == [2, 1, 3]
        assert [flight.note for flight in flights] == [None, "Cloudbase [2J at last\n\nand a second line", None]
        kept = flights[1]
        assert (kept.wing, kept.takeoff_place, kept.pilot) == ("Old wing", "Long ridge", "Ada Example")
        assert names_in_log(book, 1)["takeoff_place"] is None
        for _ in range(6):  # shifts that add up are no matter, as each is small
            entry = shifted(entry, 40.0)
            renew_log(book, 1, entry)
        assert [flight.note is None for flight in logged_flights(book)] == [False]
        assert loose_remarks(book) == []


def test_what_fits_no_flight_is_kept_and_finds_its_flight_again(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        with_remarks(book, entry)
        renew_log(book, 1, shifted(entry, SAME_TAKEOFF_S + 1.0))
        assert [(flight.flight, flight.note) for flight in logged_flights(book)] == [(2, None)]
        (loose,) = loose_remarks(book)
        assert (loose.flight, loose.wing, loose.has_flight) == (1, "Old wing", False)
        renew_log(book, 1, shifted(entry))  # no flight at all
        assert len(loose_remarks(book)) == 1
        renew_log(book, 1, shifted(entry, 3.0))
        assert [(flight.flight, flight.wing) for flight in logged_flights(book)] == [(1, "Old wing")]
        assert loose_remarks(book) == []


def test_removing_a_log_keeps_nothing_of_it(tmp_path: Path, entry: LogEntry) -> None:
    file = tmp_path / "book.db"
    with open_book(file, create=True) as book:
        with_remarks(book, entry)
        fill(book, *entries_like(small_entry(pilot="Bea Other"), 2))
        assert b"Old wing" in file.read_bytes()
        assert [log_called(book, name) for name in ("monday.igc", entry.sha256[:8], "1")] == [1, 1, 1]
        remove_logs(book, [1])
        assert remarks(book) == []
        assert len(logged_flights(book)) == 2
        for name in ("monday.igc", "77"):
            with pytest.raises(BookError, match="there is no log or flight"):
                log_called(book, name)
        fill(book, entry)
        assert [flight.note for flight in logged_flights(book)] == [None] * 3
        remove_logs(book, [log_called(book, "monday.igc")])
    left = file.read_bytes()
    for secret in (b"Ada Example", b"Old wing", b"Cloudbase", b"Long ridge", b"monday.igc"):
        assert secret not in left
    assert b"Bea Other" in left


def test_no_flight_leaves_lists_and_season_and_comes_back(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, entry)
        correct_flight(book, 1, {}, is_flight=False)
        assert logged_flights(book) == []
        assert list(booked_logs(book)) == []
        assert [flight.is_flight for flight in logged_flights(book, Selection(also_no_flights=True))] == [False]
        renew_log(book, 1, shifted(entry, 2.0))
        assert logged_flights(book) == []
        correct_flight(book, 1, {}, is_flight=True)
        assert len(logged_flights(book)) == 1
        assert remarks(book) == []  # a row that says nothing goes


def test_season_pages_read_the_corrections(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        with_remarks(book, entry)
        (log,) = booked_logs(book)
        assert log.result.log.wing == "Old wing"
        assert log.flights[0].wing == "Old wing"
        assert log.result.flights[0].takeoff.place == "Long ridge"
        assert log.flights[0].note.startswith("Cloudbase")
        with book.writing() as database:
            database.execute("UPDATE results SET content = ?, size_bytes = 2", (packed_text(b"{}"),))
        with pytest.raises(BookError, match="flightlog book renew"):
            list(booked_logs(book))


def test_unsound_words_are_refused(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, entry)
        with pytest.raises(BookError, match="there is no flight 9; see flightlog book list --all"):
            note_flight(book, 9, "x")
        with pytest.raises(BookError, match="10000 are the most"):
            note_flight(book, 1, "x" * 10_001)
        with pytest.raises(ValueError, match="no corrections"):
            correct_flight(book, 1, {"duration_s": "9"})
        note_flight(book, 1, "a word " * 1400)
        correct_flight(book, 1, {"wing": "w" * 5000})
        (flight,) = logged_flights(book)
        assert len(flight.wing or "") == 200
        assert set((flight.note or "").split()) == {"a", "word"}


def test_the_kept_bytes_are_analysed_again(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        with_remarks(book, entry)
        assert outdated_logs(book, analysis_version()) == []
        first = logged_flights(book)[0]
        home = Place("Home", first.landing_lat_deg, first.landing_lon_deg, first.landing_altitude_m or 0.0)
        mark_outdated(book, all_logs(book), places=(home,))
        assert outdated_logs(book, analysis_version()) == [1]
        for kept in kept_logs(book, [1, 99], pytest.fail):
            again = entry_of_kept_log(kept, None)
            assert isinstance(again, LogEntry)
            assert (again.sha256, again.original_bytes) == (entry.sha256, entry.original_bytes)
            assert renew_log(book, kept.log_id, again)
        (flight,) = logged_flights(book)
        assert flight.landing_place == "Home"
        assert (flight.note, flight.duration_s) == (first.note, first.duration_s)
        assert outdated_logs(book, analysis_version()) == []
        assert len(book.rows("SELECT id FROM recipes")) == 1
        mark_outdated(book, [1], wing_class="paraglider")
        (kept,) = kept_logs(book, [1], pytest.fail)
        assert kept.recipe.places == (home,)
        assert kept.recipe.recipe.settings == PARAGLIDER
        wing = Wing("Mine", "hang_glider", 30.0, 110.0)
        mark_outdated(book, [1], wing=wing)  # brings its own class
        (kept,) = kept_logs(book, [1], pytest.fail)
        assert (kept.recipe.wing, kept.recipe.recipe.settings) == (wing, None)
        damaged: list[BookError] = []
        with book.writing() as database:
            database.execute("UPDATE originals SET content = substr(content, 1, 100)")
        assert list(kept_logs(book, [1], damaged.append)) == []
        assert damaged[0].path == "monday.igc"
    assert unpacked_text(entry.result, entry.result_bytes).startswith(b'{"schema":"flightlog/debrief/1"')


@settings(max_examples=60, deadline=None)
@given(
    gaps=st.lists(st.floats(2.1 * SAME_TAKEOFF_S, 20_000.0), min_size=1, max_size=6),
    moves=st.lists(st.floats(-SAME_TAKEOFF_S, SAME_TAKEOFF_S), min_size=6, max_size=6),
    order=st.randoms(use_true_random=False),
)
def test_numbers_stay_under_any_small_moves(gaps, moves, order) -> None:
    import sqlite3

    before = [sum(gaps[: k + 1]) for k in range(len(gaps))]
    database = sqlite3.connect(":memory:")
    database.execute("CREATE TABLE flights (id INTEGER PRIMARY KEY, log_id, takeoff_s)")
    database.execute("CREATE TABLE remarks (flight INTEGER PRIMARY KEY, log_id, takeoff_s)")
    for number, takeoff_s in enumerate(before, start=1):
        table = order.choice(["flights", "remarks"])
        database.execute(f"INSERT INTO {table} VALUES (?, 1, ?)", (number, takeoff_s))  # noqa: S608
    after = [takeoff_s + 0.999 * move for takeoff_s, move in zip(before, moves, strict=False)]
    expected = list(range(1, len(before) + 1))
    assert numbers_for(database, 1, after) == expected
    assert numbers_for(database, 1, [*after, 1e6])[-1] is None
    database.close()


def test_one_flight_recorded_twice_is_told(tmp_path: Path, entry: LogEntry) -> None:
    def like(name: str, pilot: str | None, shift_s: float, north_deg: float = 0.0) -> LogEntry:
        (other,) = entries_like(shifted(entry, shift_s), 1, len(name))
        (flight,) = other.flights
        facts = replace(flight.facts, pilot=pilot, takeoff_lat_deg=flight.facts.takeoff_lat_deg + north_deg)
        return replace(other, name=name, sha256=f"{len(name):064x}", flights=(replace(flight, facts=facts),))

    second = [
        like("a", "ADA example", 100.0),  # the same pilot in the air
        like("bb", "Ada Example", entry.flights[0].facts.duration_s + 1.0),  # after that landing
        like("ccc", "Bea Other", 0.0),
        like("dddd", None, 200.0, 0.017),  # 1.9 km away
        like("eeeee", None, 200.0, 0.019),  # 2.1 km
        like("ffffff", None, -301.0),
    ]
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, entry)
        for other in second:
            fill(book, other)
            told = {(one.log, one.earlier_log) for one in overlaps(book, other.sha256)}
            assert ((other.name, "monday.igc") in told) == (other.name in ("a", "dddd")), other.name
        assert {(one.log, one.earlier_log) for one in overlaps(book) if one.earlier_log == "monday.igc"} == {
            ("a", "monday.igc"), ("dddd", "monday.igc"),
        }  # fmt: skip
        correct_flight(book, 2, {}, is_flight=False)
        assert ("a", "monday.igc") not in {(one.log, one.earlier_log) for one in overlaps(book)}


def test_a_renewal_that_was_stopped_goes_on_where_it_was(tmp_path: Path, entry: LogEntry) -> None:
    with open_book(tmp_path / "book.db", create=True) as book:
        fill(book, *entries_like(replace(entry, analysis=analysis_version()), 3))
        assert outdated_logs(book, analysis_version()) == []
        mark_outdated(book, all_logs(book))
        first = next(kept_logs(book, outdated_logs(book, analysis_version()), pytest.fail))
        assert renew_log(book, first.log_id, entry)
    with open_book(tmp_path / "book.db") as book:
        assert outdated_logs(book, analysis_version()) == [2, 3]
        assert not renew_log(book, 99, entry)  # removed meanwhile
