"""`flightlog book`: what is added, told and left alone, and the exit statuses."""

from __future__ import annotations

import csv
import gzip
import io
import json
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from flightlog.batch import Recipe
from flightlog.commands.main import main
from flightlog.logbook.entries import LogEntry
from flightlog.logbook.flights import logged_flights
from flightlog.logbook.opening import open_book
from flightlog.places import read_places
from flightlog.tracks.reading import find_logs
from flightlog.writers.book_entries import entry_of_log
from flightlog.writers.book_text import list_lines
from flightlog.writers.display import Display
from flightlog.writers.json_schemas import SCHEMA_FOLDER
from tests.unit.made_book import SAMPLES, entries_like, fill, small_entry
from tests.unit.small_logs import igc_text, write_log


@pytest.fixture(autouse=True)
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    file = tmp_path / "data" / "logbook.db"
    monkeypatch.setenv("FLIGHTLOG_BOOK", str(file))
    return file


def run(*words: object, **how: object) -> Result:
    return CliRunner().invoke(main, ["book", *(str(word) for word in words)], **how)


def document(text: str) -> dict:
    found = json.loads(text, parse_constant=pytest.fail)
    kind = found["schema"].split("/")[1]
    schema = json.loads((SCHEMA_FOLDER / f"{kind}-1.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(found)
    return found


def test_a_log_is_known_by_its_content(tmp_path: Path, book: Path) -> None:
    logs = tmp_path / "logs"
    write_log(logs / "monday.igc")
    write_log(logs / "tuesday.igc", igc_text(seed=1, date="150626"))
    (logs / "monday again.igc.gz").write_bytes(gzip.compress((logs / "monday.igc").read_bytes()))
    (logs / "bad.igc").write_text("AXXX\nnothing that flies\n")
    first = run("add", logs, "--jobs", 1)
    assert first.exit_code == 1
    assert f"{book}: 2 logs added with 2 flights, 1 log known already, 1 log failed" in first.stderr
    assert "bad.igc:" in first.stderr
    (logs / "bad.igc").unlink()
    again = run("add", logs, "--jobs", 1)
    assert again.exit_code == 0
    assert "no logs added with no flights, 3 logs known already\n" in again.stderr
    places = run("add", logs, "--jobs", 1, "--places", SAMPLES / "places.geojson")
    assert "3 logs known already (flightlog book renew takes other places or another wing)" in places.stderr
    write_log(logs / "other recorder.igc", igc_text().replace("AXXXABC", "AXXXDEF"))
    twice = run("add", logs / "other recorder.igc")
    assert "flight 3 of 2026-06-14 (other recorder.igc) may be flight 1 (monday" in twice.stderr
    assert "recorded twice; if so: flightlog book correct 3 --not-a-flight" in twice.stderr
    assert "recorded twice" in run("check").stdout
    run("correct", 3, "--not-a-flight")
    assert len(document(run("list", "--to", "json").stdout)["flights"]) == 2


def test_the_list_in_every_form(book: Path) -> None:
    with open_book(_made(book), create=True) as opened:
        fill(opened, small_entry(pilot="=1+1\x1b[2J"), small_entry("b.igc", seed=1, date="150625"))
    text = run("list", "--units", "aviation").stdout
    assert text.splitlines()[0].split() == [
        "no.", "date", "take-off", "hours", "from", "to", "wing", "gain", "open", "free", "go-arounds",
    ]  # fmt: skip
    assert text.splitlines()[1].startswith("2    2025-06-15  13:01")
    assert " ft " in text
    assert "NM" in text
    flights = document(run("list", "--to", "json").stdout)["flights"]
    assert [flight["date"] for flight in flights] == ["2025-06-15", "2026-06-14"]
    rows = list(csv.DictReader(io.StringIO(run("list", "--to", "csv").stdout)))
    assert rows[1]["pilot"].startswith("'=1+1")
    assert "\x1b" not in rows[1]["pilot"]
    for row, flight in zip(rows, flights, strict=True):
        assert {key: value for key, value in row.items() if key != "pilot"} == {
            key: _in_csv(value) for key, value in flight.items() if key != "pilot"
        }
    assert run("list", "--year", "2024").stdout == "no flight\n"


def test_totals_add_up(book: Path) -> None:
    with open_book(_made(book), create=True) as opened:
        fill(opened, *(small_entry(f"{k}.igc", seed=k, date=f"1{k}0{k}26") for k in (5, 6, 7)))
    flights = document(run("list", "--to", "json").stdout)["flights"]
    totals = document(run("totals", "--by", "month", "--to", "json").stdout)
    assert [group["key"] for group in totals["groups"]] == ["2026-05", "2026-06", "2026-07"]
    for name, column in (("airborne_s", "duration_s"), ("gain_m", "gain_m"), ("open_distance_m",) * 2):
        assert totals["all"][name] == pytest.approx(sum(flight[column] for flight in flights), abs=0.02)
    assert totals["all"]["landings"] == totals["all"]["flights"] == 3
    text = run("totals", "--from", "2026-06-01", "--until", "2026-06-30").stdout
    assert text.splitlines()[1].split()[:2] == ["2026", "1"]
    assert len(run("totals", "--to", "csv").stdout.splitlines()) == 2


def test_no_logbook_and_no_such_choice(book: Path) -> None:
    for words in (("list",), ("totals",)):
        result = run(*words)
        assert result.exit_code == 2
        assert result.stderr == f"{book}:1: there is no logbook yet; make one: flightlog book add LOG...\n"
    assert run("list", "--from", "yesterday").exit_code == 2
    assert run("nothing").exit_code == 2
    assert not book.exists()


def test_logs_that_fail_make_no_logbook(tmp_path: Path) -> None:
    book, junk = tmp_path / "new.db", write_log(tmp_path / "junk.igc", "no log at all")
    result = run("add", junk, "--book", book)
    assert result.exit_code == 2
    assert "no logbook was made" in result.stderr
    assert list(tmp_path.iterdir()) == [junk]


def test_places_and_wing_of_the_user() -> None:
    day = SAMPLES / "top-landing-day.igc"
    added = run("add", day, "--places", SAMPLES / "places.geojson", "--wing-name", "My\x1b old wing", "--quiet")
    assert (added.exit_code, added.stderr) == (0, "")
    first, second = document(run("list", "--to", "json").stdout)["flights"]
    assert first["landing_place"] == "Quillback top meadow"
    assert first["wing"] == second["wing"] == "My old wing"
    assert document(run("list", "--place", "valley", "--to", "json").stdout)["flights"] == [second]


def _in_csv(value: object) -> str:
    return "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)


def _made(book: Path) -> Path:
    book.parent.mkdir()
    return book


@pytest.fixture(scope="module")
def day_entry() -> LogEntry:
    """The sample day: a flight with three go-arounds and a top landing, and one to the valley."""
    places = read_places(SAMPLES / "places.geojson")
    entry = entry_of_log(next(find_logs([SAMPLES / "top-landing-day.igc"])), Recipe(places=places))
    assert isinstance(entry, LogEntry)
    return entry


@pytest.fixture
def day(book: Path, day_entry: LogEntry) -> Path:
    """A logbook of that day."""
    with open_book(book, create=True) as opened:
        fill(opened, day_entry)
    return book


@pytest.mark.usefixtures("day")
def test_one_flight_with_what_is_said_of_it() -> None:
    assert run("note", 1, "Three tries\nand a landing").exit_code == 0
    assert run("correct", 1, "--wing", "Old wing", "--pilot", "Ada Example").exit_code == 0
    text = run("show", 1, "--units", "aviation").stdout
    assert text.startswith("Flight 1\ndate           2025-06-15\n")
    assert "Quillback top meadow (top landing)" in text
    assert "Old wing (as you say; else Invented paraglider 74)" in text
    assert "note: Three tries\nnote: and a landing\n" in text
    assert text.count("go-around") == 3
    shown = document(run("show", 1, "--to", "json").stdout)
    assert shown["flight"]["note"] == "Three tries\nand a landing"
    assert (shown["flight"]["wing"], shown["log"]["wing"]) == ("Old wing", "Invented paraglider 74")
    assert shown["result"]["duration_s"] == shown["flight"]["duration_s"]
    assert len([one for one in shown["result"]["passes"] if one["outcome"] == "go_around"]) == 3
    assert run("correct", 1, "--wing", "").exit_code == 0
    assert document(run("show", 1, "--to", "json").stdout)["flight"]["wing"] == "Invented paraglider 74"
    assert run("note", 1, "").exit_code == 0
    assert "note:" not in run("show", 1).stdout


def test_no_flight_and_mistakes(day: Path) -> None:
    assert run("correct", 2, "--not-a-flight").exit_code == 0
    assert len(document(run("list", "--to", "json").stdout)["flights"]) == 1
    assert [one["is_flight"] for one in document(run("list", "--all", "--to", "json").stdout)["flights"]] == [
        True, False,
    ]  # fmt: skip
    assert run("correct", 2, "--a-flight").exit_code == 0
    assert len(document(run("list", "--to", "json").stdout)["flights"]) == 2
    for words in (("show", 9), ("note", 9, "x"), ("correct", 1, 9, "--wing", "x")):
        result = run(*words)
        assert result.exit_code == 2
        assert result.stderr == f"{day}:1: there is no flight 9; see flightlog book list --all\n"
    assert "nothing to correct" in run("correct", 1).stderr
    assert run("correct", 1, 2, "--wing", "Both").exit_code == 0
    assert [one["wing"] for one in document(run("list", "--to", "json").stdout)["flights"]] == ["Both", "Both"]
    assert run("show", "first").exit_code == 2


def test_a_narrow_terminal_goes_without_columns(day: Path) -> None:
    with open_book(day) as opened:
        flights = logged_flights(opened)
    wide, narrow = list_lines(flights, Display(), 200), list_lines(flights, Display(), 90)
    assert wide == list_lines(flights, Display())
    assert max(map(len, narrow[:3])) <= 90
    assert narrow[-1] == "Left out, as the terminal is narrow: open, gain, to, go-arounds."
    assert narrow[0].split() == ["no.", "date", "take-off", "hours", "from", "wing", "free"]
    assert list_lines(flights, Display(), 20)[0].split()[-2:] == ["from", "free"]


@pytest.mark.usefixtures("day")
def test_currency_is_told_with_its_caution() -> None:
    text = run("currency", "--today", "2025-06-16").stdout
    assert text.startswith("Last flight: 2025-06-15 (yesterday), no. 2\n")
    assert text.endswith("it is not a licence or currency certificate.\n")
    told = document(run("currency", "--today", "2025-09-13", "--to", "json").stdout)
    assert (told["all"]["days_since"], told["all"]["last_90_days"]["flights"]) == (90, 0)
    assert told["all"]["last_12_months"]["landings"] == 2
    assert "not a licence" in told["cautions"][0]
    assert run("currency", "--today", "2025-06-14").stdout.startswith("no flight up to 2025-06-14\n")


def test_remove_asks_and_tells(day: Path) -> None:
    run("note", 2, "kept until now")
    copy = day.with_name("logbook.version-1.db")
    copy.write_bytes(day.read_bytes())
    for answer in ("n\n", ""):
        result = run("remove", "top-landing-day.igc", input=answer)
        assert result.exit_code == 2
        assert "nothing was removed" in result.stderr
    assert len(document(run("list", "--to", "json").stdout)["flights"]) == 2
    result = run("remove", 2, input="y\n")
    assert result.exit_code == 0
    assert (
        "2 flights (no. 1 of 2025-06-15, no. 2 of 2025-06-15), 1 flight with notes or corrections" in result.stderr
    )
    assert f"{copy}: this older copy of the logbook may still hold it" in result.stderr
    assert run("list").stdout == "no flight\n"
    assert run("remove", 2, "--yes").exit_code == 2


def test_renew_from_the_kept_bytes(day: Path, tmp_path: Path) -> None:
    run("correct", 1, "--landing-place", "My meadow")
    before = document(run("list", "--to", "json").stdout)
    assert "nothing was analysed again" in run("renew").stderr
    one = tmp_path / "one.geojson"
    feature = json.loads((SAMPLES / "places.geojson").read_text(encoding="utf-8"))
    for place in feature["features"]:
        place["properties"]["name"] += " new"
    one.write_text(json.dumps(feature), encoding="utf-8")
    assert "1 log analysed again" in run("renew", "--places", one).stderr
    after = document(run("list", "--to", "json").stdout)
    places = [(flight["takeoff_place"], flight["landing_place"]) for flight in after["flights"]]
    assert places == [
        ("Quillback launch new", "My meadow"),
        ("Quillback launch new", "Quillback valley field new"),
    ]
    for flight in (*before["flights"], *after["flights"]):
        del flight["takeoff_place"], flight["landing_place"]
    assert before == after
    with open_book(day) as opened, opened.writing() as database:
        database.execute("UPDATE logs SET analysis = 'an older one'")
        database.execute("UPDATE remarks SET takeoff_s = takeoff_s - 1000, flight = 77")
    assert "1 log analysed by another flightlog: flightlog book renew" in run("check").stdout
    renewed = run("renew", "--quiet")
    assert (renewed.exit_code, renewed.stderr) == (0, "")
    result = run("renew", "top-landing-day.igc")
    assert "1 log analysed again" in result.stderr
    assert "kept, but no flight takes off then any more: top-landing-day.igc, flight 77" in result.stderr
    assert "landing-place 'My meadow'" in result.stderr
    found = document(run("check", "--to", "json").stdout)
    assert (found["logs"], found["flights"], found["outdated_logs"], found["faults"]) == (1, 2, 0, [])
    assert found["loose_remarks"][0]["landing_place"] == "My meadow"


def test_check_finds_what_is_damaged(day: Path) -> None:
    assert run("check").stdout == "1 log, 2 flights: no faults\n"
    with open_book(day) as opened, opened.writing() as database:
        database.execute("UPDATE logs SET sha256 = replace(sha256, substr(sha256, 1, 1), 'f')")
    result = run("check")
    assert result.exit_code == 1
    assert "top-landing-day.igc: its original is not what was added" in result.stdout
    with open_book(day) as opened, opened.writing() as database:
        database.execute("UPDATE originals SET content = x'00'")
    assert run("check").exit_code == 1
    assert run("renew", "--all").exit_code == 2
    assert len(document(run("list", "--to", "json").stdout)["flights"]) == 2


@pytest.mark.usefixtures("day")
def test_export_for_other_programs(tmp_path: Path) -> None:
    import pyarrow.parquet as pq

    run("note", 1, "@SUM(1+1)")
    out = tmp_path / "out"
    result = run("export", "--to", "parquet,csv,json", "--out", out)
    assert result.exit_code == 0
    assert len(result.stderr.splitlines()) == 7
    whole = document((out / "logbook.json").read_text(encoding="utf-8"))
    for name in ("flights", "climbs", "passes"):
        rows = list(csv.DictReader((out / f"logbook-{name}.csv").read_text(encoding="utf-8").splitlines()))
        table = pq.read_table(out / f"logbook-{name}.parquet")
        assert table.column_names == list(rows[0]) == list(whole[name][0])
        assert len(rows) == table.num_rows == len(whole[name]) > 0
        assert table.column("flight").to_pylist() == [one["flight"] for one in whole[name]]
    assert rows[0]["outcome"] == "go_around"
    flights = (out / "logbook-flights.csv").read_text(encoding="utf-8")
    assert "'@SUM(1+1)" in flights
    assert whole["flights"][0]["note"] == "@SUM(1+1)"
    assert run("export", "--out", out).exit_code == 0  # the same again
    (out / "logbook-flights.csv").write_text("mine")
    refused = run("export", "--out", out)
    assert refused.exit_code == 2
    assert "left alone" in refused.stderr
    assert (out / "logbook-flights.csv").read_text() == "mine"
    assert run("export", "--to", "xml").exit_code == 2
    assert run("export", "--out", out, "--force", "--year", "2031", "--to", "csv,parquet").exit_code == 0
    assert pq.read_table(out / "logbook-passes.parquet").num_rows == 0


def test_a_damaged_logbook_gives_one_line(day: Path, tmp_path: Path) -> None:
    import random

    good, damaged = day.read_bytes(), tmp_path / "damaged.db"
    chance = random.Random(4)
    refused = 0
    for _ in range(15):
        data = bytearray(good)
        for _ in range(chance.choice([1, 30, 300])):
            data[chance.randrange(len(data))] = chance.randrange(256)
        damaged.write_bytes(data)
        for words in (("list", "--all"), ("show", "1"), ("check",), ("note", "1", "x")):
            result = run(*words, "--book", damaged)
            assert result.exit_code in (0, 1, 2)
            assert "report it" not in result.stderr
            assert len(result.stderr.splitlines()) <= 1
            refused += result.exit_code == 2
    assert refused >= 4  # the damage did matter


def test_lists_and_totals_of_many_flights_answer_at_once(book: Path) -> None:
    import time

    with open_book(_made(book), create=True) as opened:
        fill(opened, *entries_like(small_entry(), 500))
    run("list", "--to", "json")  # loads what is needed
    for words in (("list",), ("totals", "--by", "month"), ("list", "--to", "json"), ("currency",)):
        began = time.process_time()
        result = run(*words)
        used_s = time.process_time() - began
        assert result.exit_code == 0
        assert used_s < 0.15, words
    assert len(run("list").stdout.splitlines()) == 1 + 500 + 1 + 3  # head, flights, what the figures mean


def test_what_answers_at_once_loads_no_analysis() -> None:
    code = (
        "import sys; from flightlog.writers import book_text, book_json, book_rows; "
        "from flightlog.logbook import flights, totals;"
        "bad = {'numpy', 'scipy', 'pandas', 'flightlog.debriefing'} & set(sys.modules); assert not bad, bad"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
