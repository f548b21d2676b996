"""`flightlog distance`: tables, JSON, GeoJSON, exit statuses, and what stays untouched."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

import flightlog
import flightlog.distances.best
from flightlog.commands.main import main
from flightlog.commands.options import place_for
from flightlog.writers.json_schemas import SCHEMA_FOLDER
from tests.unit.small_logs import GROUND_S, igc_text

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
LONG, SHORT = SAMPLES / "cross-country.igc", SAMPLES / "top-landing-day.igc"
SCHEMA = json.loads((SCHEMA_FOLDER / "distance-1.json").read_text(encoding="utf-8"))


def run(*words: object):
    return CliRunner().invoke(main, ["distance", *(str(word) for word in words)])


KEPT: dict[tuple[str, str], object] = {}


@pytest.fixture
def kept_distances(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same search of the same log is made once: for tests of what is printed and written of it."""
    search = flightlog.distances.best.best_distances

    def once(day: flightlog.Debrief, **options: object) -> object:
        key = (day.log.sha256, repr(options))
        if key not in KEPT:
            KEPT[key] = search(day, **options)
        return KEPT[key]

    monkeypatch.setattr(flightlog.distances.best, "best_distances", once)


def documents(text: str) -> list[dict]:
    found = [json.loads(line, parse_constant=pytest.fail) for line in text.splitlines()]
    for document in found:
        jsonschema.Draft202012Validator(SCHEMA).validate(document)
    return found


@pytest.mark.usefixtures("kept_distances")
def test_a_table_on_the_terminal() -> None:
    result = run(LONG, "--timezone", "UTC")
    assert result.exit_code == 0
    assert result.stdout.startswith(f"Distances in {LONG}, 2025-05-23, times in UTC\n")
    row = next(line for line in result.stdout.splitlines() if line.startswith("Open distance "))
    assert "km" in row
    assert "within 5 % of the distance" in result.stdout
    assert result.stderr == ""


def test_json_keeps_the_published_schema_one_line_a_log() -> None:
    result = run(LONG, SHORT, "--to", "json")
    found = documents(result.stdout)
    assert [document["file"] for document in found] == [LONG.name, SHORT.name]
    flight = found[0]["flights"][0]
    assert flight["number"] == 1
    assert flight["open_m"]["distance_m"] <= flight["free_3_turnpoints_m"]["distance_m"]
    assert flight["fai_triangle_m"]["distance_m"] <= flight["triangle_m"]["distance_m"] + 0.03
    assert {"time", "lat_deg", "lon_deg"} == set(flight["open_m"]["points"][0])
    assert len(flight["triangle_m"]["points"]) == 3
    assert len(found[1]["flights"]) == 2


def test_the_function_gives_what_the_command_writes() -> None:
    day = flightlog.debrief(flightlog.read_track(SHORT))
    flights = flightlog.best_distances(day, closing="800m")
    written = documents(run(SHORT, "--to", "json", "--closing", "800m").stdout)[0]
    assert written["rules"]["closing_limit_m"] == 800.0
    for flight, document in zip(flights, written["flights"], strict=True):
        assert document["triangle_m"]["distance_m"] == pytest.approx(flight.triangle_m.distance_m, abs=0.006)
        assert flight.triangle_m.closing_m <= 800.0
    assert "flights" in written


@pytest.mark.usefixtures("kept_distances")
def test_geojson_draws_lines_and_closed_triangles(tmp_path: Path) -> None:
    result = run(LONG, "--to", "geojson,text", "--out", tmp_path)
    assert result.exit_code == 0
    drawn = json.loads((tmp_path / "cross-country.distance.geojson").read_text(encoding="utf-8"))
    shapes = {feature["properties"]["course"]: feature["geometry"]["coordinates"] for feature in drawn["features"]}
    assert set(shapes) == {"open", "free_3_turnpoints", "out_and_return", "triangle", "fai_triangle"}
    assert shapes["triangle"][0] == shapes["triangle"][-1]
    assert len(shapes["triangle"]) == 4
    assert all(-180.0 <= lon <= 180.0 and -90.0 <= lat <= 90.0 for line in shapes.values() for lon, lat in line)
    assert (tmp_path / "cross-country.distance.txt").read_text(encoding="utf-8").startswith("Distances in ")


@pytest.mark.usefixtures("kept_distances")
def test_own_files_are_renewed_and_others_left_alone(tmp_path: Path) -> None:
    for _ in range(2):
        assert run(SHORT, "--to", "json,geojson,text,html", "--out", tmp_path).exit_code == 0
    mine = tmp_path / "top-landing-day.distance.json"
    mine.write_text('{"my": "notes"}', encoding="utf-8")
    result = run(SHORT, "--to", "json", "--out", tmp_path)
    assert result.exit_code == 2
    assert "left alone" in result.stderr
    assert mine.read_text(encoding="utf-8") == '{"my": "notes"}'
    assert run(SHORT, "--to", "json", "--out", tmp_path, "--force").exit_code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--closing", "near"], "write it as 5%, 800m or 1.5km"),
        (["--time-limit", "0"], "--time-limit"),
        (["--to", "pdf"], "is not among"),
        (["--to", "text,json", "--out", "-"], "standard output takes one format"),
    ],
)
def test_wrong_usage_is_one_line(words: list[str], told: str) -> None:
    result = run(LONG, *words)
    assert result.exit_code == 2
    assert told in result.stderr
    assert len(result.stderr.splitlines()) == 1
    assert result.stdout == ""


@pytest.mark.usefixtures("kept_distances")
def test_a_log_that_fails_stops_no_other(tmp_path: Path) -> None:
    (tmp_path / "broken.igc").write_text("no log at all", encoding="utf-8")
    result = run(tmp_path / "broken.igc", SHORT, "--to", "json")
    assert result.exit_code == 1
    assert len(documents(result.stdout)) == 1
    assert len(result.stderr.splitlines()) == 1


def test_a_log_in_which_nobody_flies(tmp_path: Path) -> None:
    log = tmp_path / "still.igc"
    log.write_text("\r\n".join(igc_text().splitlines()[: GROUND_S - 5]), encoding="ascii")
    result = run(log, "--to", "json")
    assert result.exit_code == 0
    assert documents(result.stdout)[0]["flights"] == []
    assert "holds no flight" in run(log).stdout


@pytest.mark.usefixtures("kept_distances")
def test_anonymous_results_name_nobody() -> None:
    result = run(LONG, "--anonymous")
    assert "cross-country" not in result.stdout
    assert result.stdout.startswith("Distances in log-")


@pytest.mark.usefixtures("kept_distances")
def test_a_page_that_needs_nothing_else() -> None:
    result = run(LONG, SHORT, "--to", "html", "--out", "-")
    assert result.exit_code == 0
    pages = result.stdout.split("<!doctype html>")[1:]
    assert len(pages) == 2
    assert pages[0].count("<svg") == 5
    assert pages[1].count("<svg") == 10
    assert "default-src 'none'" in pages[0]
    assert "http://www.w3.org" in pages[0]
    assert "<script" not in pages[0]
    for word in ("Open distance", "Out and return", "FAI triangle", "What counts as what"):
        assert word in pages[0]


@pytest.mark.usefixtures("kept_distances")
def test_texts_of_a_hostile_log_are_escaped(tmp_path: Path) -> None:
    log = tmp_path / "<img src=x onerror=alert(1)>&\x1b[31m.igc"
    log.write_bytes(SHORT.read_bytes())
    page = run(log, "--to", "html", "--out", "-").stdout
    assert "<img" not in page
    assert "&lt;img src=x" in page
    assert "\x1b" not in run(log).stdout
    drawn = json.loads(run(log, "--to", "geojson").stdout)
    assert "\x1b" not in drawn["features"][0]["properties"]["name"]


@pytest.mark.parametrize(
    ("chosen", "out", "place"),
    [
        (["text"], None, "-"),
        (["json"], None, "-"),
        (["html"], None, "reports"),
        (["text", "json"], None, "reports"),
        (["html"], "-", "-"),
        (["text", "json"], "mine", "mine"),
    ],
)
def test_pages_go_to_a_folder_and_tables_to_the_terminal(chosen: list[str], out: str | None, place: str) -> None:
    assert place_for(chosen, out) == place
