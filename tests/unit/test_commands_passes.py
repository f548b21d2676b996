"""`flightlog passes`: what is written where, exit statuses, what stays untouched."""

from __future__ import annotations

import csv
import io
import json
import warnings
from pathlib import Path

import pytest
from click.testing import CliRunner

from flightlog.commands.main import main
from tests.unit.small_logs import igc_text, write_log

pytestmark = pytest.mark.usefixtures("kept_debriefs")

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pypdf import PdfReader

SAMPLES = Path(__file__).parents[2] / "sample_tracks"
DAY, PLACES = SAMPLES / "top-landing-day.igc", SAMPLES / "places.geojson"


def run(*words: object, text: str | None = None):
    return CliRunner().invoke(main, [str(word) for word in words], input=text)


@pytest.fixture(scope="module")
def document():
    result = run("passes", DAY, "--places", PLACES, "--to", "json")
    assert result.exit_code == 0, result.stderr
    return json.loads(result.stdout)


def test_the_sample_day_has_its_passes(document):
    """The simulator flew three passes broken off and a top landing; see sample_tracks/README.md."""
    top = next(row for row in document["landings"] if row["place_name"] == "Quillback top meadow")
    assert (top["outcome"], top["go_arounds"]) == ("landed", 3)
    assert [one["figures"]["outcome"] for one in top["tries"]] == ["go_around"] * 3 + ["landed"]
    place = next(place for place in document["places"] if place["name"] == "Quillback top meadow")
    assert place["is_users"]
    assert place["totals"]["decision_height_m"]["count"] == 3


def test_places_are_found_without_a_file():
    result = run("passes", DAY, "--to", "json")
    names = [place["name"] for place in json.loads(result.stdout)["places"]]
    assert names[0] == "top 1"
    assert any(name.startswith("field") for name in names)


def test_a_table_is_printed_by_default():
    result = run("passes", DAY, "--places", PLACES)
    assert result.exit_code == 0
    assert result.stdout.startswith("Landings of 1 log, 2 flights")
    assert "Quillback top meadow" in result.stdout
    assert result.stderr == ""


def test_every_format_into_a_folder_and_again(tmp_path):
    words = ("passes", DAY, "--places", PLACES, "--to", "text,json,csv,html,pdf", "--out", tmp_path / "out")
    assert run(*words).exit_code == 0
    names = ["passes.csv", "passes.html", "passes.json", "passes.pdf", "passes.txt"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == names
    before = {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()}
    assert run(*words).exit_code == 0
    assert {path.name: path.read_bytes() for path in (tmp_path / "out").iterdir()} == before
    rows = list(csv.reader(io.StringIO(before["passes.csv"].decode())))
    assert len(rows) == 6  # heading, four passes, the landing in the valley


def test_a_file_in_the_way_is_left_alone_and_the_others_are_written(tmp_path):
    (tmp_path / "passes.json").write_text("mine", encoding="utf-8")
    result = run("passes", DAY, "--to", "json,csv", "--out", tmp_path)
    assert result.exit_code == 1
    assert (tmp_path / "passes.json").read_text(encoding="utf-8") == "mine"
    assert (tmp_path / "passes.csv").is_file()
    assert "was left alone" in result.stderr
    assert run("passes", DAY, "--to", "json", "--out", tmp_path, "--force").exit_code == 0
    assert json.loads((tmp_path / "passes.json").read_bytes())["schema"] == "flightlog/passes/1"


def test_status_is_2_where_nothing_could_be_written(tmp_path):
    (tmp_path / "passes.json").write_text("mine", encoding="utf-8")
    assert run("passes", DAY, "--to", "json", "--out", tmp_path).exit_code == 2


def test_a_log_that_fails_is_one_line_and_the_others_are_done(tmp_path):
    bad = write_log(tmp_path / "bad.igc", "AXXXABC\r\n") or tmp_path / "bad.igc"
    result = run("passes", bad, DAY, "--to", "json")
    assert result.exit_code == 1
    assert json.loads(result.stdout)["logs"] == 1
    assert len(result.stderr.splitlines()) == 1
    assert "bad.igc:" in result.stderr


def test_status_is_2_when_nothing_could_be_done(tmp_path):
    result = run("passes", tmp_path / "missing.igc")
    assert result.exit_code == 2
    assert result.stdout == ""


def test_standard_input_is_a_log():
    result = run("passes", "-", "--to", "json", text=igc_text())
    assert result.exit_code == 0
    assert json.loads(result.stdout)["logs"] == 1


@pytest.mark.parametrize(
    "words", [("--to", "doc"), ("--to", ""), ("--to", "json,csv", "--out", "-"), ("--places", "missing.geojson")]
)
def test_wrong_usage(words):
    result = run("passes", DAY, *words)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1


def test_anonymous_leaves_the_file_name_out():
    result = run("passes", DAY, "--anonymous", "--to", "json")
    assert "top-landing-day" not in result.stdout


def test_pages_to_print_say_what_the_page_says(tmp_path):
    words = ("passes", DAY, "--places", PLACES, "--to", "pdf", "--paper", "letter", "--out", tmp_path)
    assert run(*words).exit_code == 0
    reader = PdfReader(tmp_path / "passes.pdf")
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert float(reader.pages[0].mediabox.width) == 612.0  # 8.5 inches of 72 points
    for words_in_it in ("Landing review", "Quillback top meadow", "First pass", "What counts as a pass"):
        assert words_in_it in text
    assert "east of the middle (m)" in text  # a word of a drawing


def test_a_pdf_of_something_else_is_left_alone(tmp_path):
    (tmp_path / "passes.pdf").write_bytes(b"%PDF-1.7 mine")
    assert run("passes", DAY, "--to", "pdf", "--out", tmp_path).exit_code == 2
    assert (tmp_path / "passes.pdf").read_bytes() == b"%PDF-1.7 mine"


def test_clock_times_are_those_of_the_place_unless_asked_otherwise():
    assert "13:38:24" in run("passes", DAY, "--places", PLACES).stdout  # UTC+8 in Mongolia
    assert "05:38:24" in run("passes", DAY, "--places", PLACES, "--timezone", "UTC").stdout


def test_the_readers_units_and_zone():
    result = run("passes", DAY, "--places", PLACES, "--units", "aviation", "--timezone", "Asia/Ulaanbaatar")
    assert "kt" in result.stdout
    assert "Asia/Ulaanbaatar" in result.stdout
