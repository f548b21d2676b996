"""The landing review as JSON, CSV, text and page."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace

import jsonschema
import pytest

from flightlog.landings.records import LandingLog
from flightlog.landings.reviewing import review_landings
from flightlog.places import Place
from flightlog.settings import Settings
from flightlog.writers.display import Display
from flightlog.writers.json_schemas import SCHEMA_FOLDER
from flightlog.writers.landing_charts import MOST_LINES
from flightlog.writers.landings import CSV_FIELDS, passes_bytes, passes_csv, passes_json, passes_lines
from flightlog.writers.landings_page import page_of_landings
from flightlog.writers.thresholds import PASS_PREFIXES, pass_thresholds_table, reasons
from tests.unit.made_debrief import HOSTILE
from tests.unit.made_landings import made_log, position, valley_log

SHOW = Display()
LOGS = [made_log(1, 2), made_log(2, 0), valley_log(3)]


@pytest.fixture(scope="module")
def review():
    return review_landings(LOGS)


@pytest.fixture(scope="module")
def page(review) -> str:
    return passes_bytes(review, "html", SHOW).decode()


def homed(log: LandingLog, name: str):
    """The log at a place of the user's, and that place."""
    contacts = tuple(replace(contact, home=0) for contact in log.contacts)
    passes = tuple(replace(one, home=0, figures=replace(one.figures, place=name)) for one in log.passes)
    return replace(log, contacts=contacts, passes=passes), Place(
        name, *position(0, 0), 900.0, 80.0, ("top_landing",)
    )


def test_json_keeps_its_schema(review):
    schema = json.loads((SCHEMA_FOLDER / "passes-1.json").read_text(encoding="utf-8"))
    validator = jsonschema.Draft202012Validator(schema)
    for made in (review, review_landings([])):
        document = json.loads(passes_json(made), parse_constant=pytest.fail)
        validator.validate(document)
        assert document["schema"] == "flightlog/passes/1"
    spoilt = json.loads(passes_json(review))
    spoilt["landings"][0]["outcome"] = "perhaps"
    with pytest.raises(jsonschema.ValidationError):
        validator.validate(spoilt)


def test_json_says_null_where_nothing_was_looked_for(review):
    document = json.loads(passes_json(review))
    field = next(row for row in document["landings"] if row["place_name"] == "field 1")
    assert field["go_arounds"] is None
    assert field["tries"] == []
    assert document["places"][0]["totals"]["go_arounds_per_landing"]["value"] == 1.5


def test_csv_has_a_row_for_every_pass_and_for_landings_without(review):
    rows = list(csv.DictReader(io.StringIO(passes_csv(review))))
    assert tuple(rows[0]) == CSV_FIELDS
    assert len(rows) == 6
    assert rows[0]["decision_height_m"] == "7.000"
    assert rows[0]["off_path_at_50_m"] == "12.000"
    assert rows[1]["since_last_s"] == "600.000"
    last = next(row for row in rows if row["place"] == "field 1")
    assert last["outcome"] == last["decision_height_m"] == ""
    assert float(last["lat_deg"]) == pytest.approx(46.0)


@pytest.mark.parametrize("name", ["=1+1", "+cmd|' /C calc'!A0", "-2", "@SUM(A1)"])
def test_csv_runs_no_formula(name):
    log, place = homed(made_log(1, 1, file=name), name)
    rows = list(csv.reader(io.StringIO(passes_csv(review_landings([log], (place,))))))
    for row in rows[1:]:
        for cell in row[2:4]:
            assert cell == f"'{name}"


def test_text_tells_places_landings_and_what_to_look_at(review):
    text = "\n".join(passes_lines(review, SHOW))
    assert text.startswith("Landings of 3 logs, 3 flights")
    for part in (
        "top 1",
        "field 1",
        "1.50 (0.31 to 4.38)",
        "landed elsewhere",
        "First pass",
        "no advice",
        "2026-06-01",
    ):
        assert part in text, part


def test_text_steers_no_terminal():
    log, place = homed(made_log(1, 1, file="a\x1b[2J.igc"), "T\x1b]0;x\x07op\n")
    text = "\n".join(passes_lines(review_landings([log], (place,)), SHOW))
    assert "\x1b" not in text
    assert "\x07" not in text


def test_the_page_escapes_names():
    log, place = homed(made_log(1, 1, file=HOSTILE), HOSTILE)
    page = passes_bytes(review_landings([log], (place,)), "html", SHOW).decode()
    assert "<script" not in page
    assert "{{ 7*7 }}" in page  # as text: no template was run
    assert "&lt;script&gt;" in page


def test_the_page_asks_nothing_of_the_network(page):
    assert not re.findall(r'(?:src|href)="(?!#|data:)[^"]*"', page)
    assert "default-src 'none'" in page
    assert "<script" not in page


def test_ids_of_the_page_are_its_own(page):
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'href="#([^"]+)"', page):
        assert target in ids


def test_the_page_pictures_touchdowns_and_passes(page):
    assert page.count("<svg") == 3  # top from above and from the side, the field from above
    assert "2 touchdown, 3 broken off here" in page
    assert "arrows show the wind" in page


def test_the_page_shows_what_a_pass_is_and_why(page):
    assert "What counts as a pass, and every threshold behind it" in page
    assert "pass_ceiling_m" in page
    assert "higher, nothing tells an approach from soaring past" in page
    assert "No published numbers" in page


def test_the_same_review_gives_the_same_bytes(review, page):
    assert passes_bytes(review, "html", SHOW).decode() == page


def test_an_empty_review_is_a_page_too():
    page = passes_bytes(review_landings([]), "html", SHOW).decode()
    assert "no landing, and no try to land" in page


def test_pictures_of_a_long_season_show_the_latest_passes():
    logs = [replace(made_log(1 + k % 6, 1), sha256=f"{k:064x}", file=f"{k}.igc") for k in range(MOST_LINES)]
    section = page_of_landings(review_landings(logs), SHOW).places[0]
    assert section.charts[1].title == f"The last {MOST_LINES} of {2 * MOST_LINES} passes from the side"


def test_every_threshold_has_its_reason():
    table = pass_thresholds_table(Settings())
    assert len(table.rows) > 25
    assert all(len(row[2]) > 3 for row in table.rows)
    assert {row[0] for row in table.rows} >= {
        name for name in Settings.__dataclass_fields__ if name.startswith(PASS_PREFIXES)
    }


def test_reasons_of_settings_of_more_lines_are_found():
    assert reasons()["regain_within_s"]
    assert reasons()["pass_ceiling_m"].startswith("higher, nothing tells")


def test_without_passes_nothing_is_held_against_anything():
    log = valley_log(3)
    text = "\n".join(passes_lines(review_landings([replace(log, passes=())]), SHOW))
    assert "stabilised" not in text
    assert "field 1" in text
