"""`flightlog book`: what is added, told and left alone, and the exit statuses."""

from __future__ import annotations

import csv
import gzip
import io
import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner, Result

from flightlog.commands.main import main
from flightlog.logbook.opening import open_book
from flightlog.writers.json_schemas import SCHEMA_FOLDER
from tests.unit.made_book import SAMPLES, fill, small_entry
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
    first = run("add", logs)
    assert first.exit_code == 1
    assert f"{book}: 2 logs added with 2 flights, 1 log known already, 1 log failed" in first.stderr
    assert "bad.igc:" in first.stderr
    (logs / "bad.igc").unlink()
    again = run("add", logs)
    assert again.exit_code == 0
    assert "no logs added with no flights, 3 logs known already" in again.stderr
    assert len(document(run("list", "--to", "json").stdout)["flights"]) == 2


def test_the_list_in_every_form(book: Path) -> None:
    with open_book(_made(book), create=True) as opened:
        fill(opened, small_entry(pilot="=1+1\x1b[2J"), small_entry("b.igc", seed=1, date="150625"))
    text = run("list", "--units", "aviation").stdout
    assert text.splitlines()[0].split() == [
        "no.", "date", "take-off", "in", "the", "air", "from", "to", "wing", "gain", "open", "free", "go-arounds",
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
