"""The season review as page, JSON, GeoJSON and PDF, and the command that writes them."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from click.testing import CliRunner

from flightlog.commands.main import main
from flightlog.errors import ReportError
from flightlog.season.results import SeasonReview
from flightlog.season.reviewing import review_season
from flightlog.writers.chart_styles import MARKS, MOST_WINGS
from flightlog.writers.display import Display
from flightlog.writers.json_schemas import SCHEMA_FOLDER
from flightlog.writers.season_charts import calendar_chart
from flightlog.writers.season_json import season_geojson, season_json
from flightlog.writers.season_reports import season_bytes, write_season_review
from flightlog.writers.season_trends import date_ticks, trend_chart
from flightlog.writers.season_words import go_around_text, region_text, trend_text, trend_texts
from flightlog.writers.svg_charts import chart_svg
from tests.unit.made_debrief import HOSTILE
from tests.unit.made_season import made_flight

SHOW = Display()
SAMPLES = Path(__file__).parents[2] / "sample_tracks"


@pytest.fixture(scope="module")
def review() -> SeasonReview:
    flights = [
        made_flight(day, ratio=6.0 + 0.05 * day + 0.2 * (-1) ** day, go_arounds=int(day > 40), place=HOSTILE)
        for day in range(1, 80, 3)
    ]
    return review_season([*flights, replace(flights[0], file=HOSTILE, has_date=False, sha256="f" * 64)])


@pytest.fixture(scope="module")
def page(review: SeasonReview) -> str:
    return season_bytes(review, "html", SHOW).decode()


def test_json_follows_its_schema_and_has_no_nan(review: SeasonReview) -> None:
    schema = json.loads((SCHEMA_FOLDER / "season-1.json").read_text(encoding="utf-8"))
    for made in (review, review_season([])):
        document = json.loads(season_json(made), parse_constant=pytest.fail)
        jsonschema.validate(document, schema)
        assert document["schema"] == "flightlog/season/1"
    spoilt = json.loads(season_json(review))
    spoilt["trends"][0]["verdict"] = "better"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(spoilt, schema)


def test_geojson_holds_every_spot_as_a_point(review: SeasonReview) -> None:
    document = json.loads(season_geojson(review), parse_constant=pytest.fail)
    spots = [spot for region in review.thermals for spot in region.spots]
    assert document["type"] == "FeatureCollection"
    assert len(document["features"]) == len(spots) == 2
    for feature, spot in zip(document["features"], spots, strict=True):
        # RFC 7946, 3.1.1: longitude, then latitude
        assert feature["geometry"] == {
            "type": "Point",
            "coordinates": [round(spot.lon_deg, 6), round(spot.lat_deg, 6)],
        }
        told = feature["properties"]
        assert told["radius_m"] == pytest.approx(spot.radius_m, abs=0.01)
        assert set(told) >= {
            "climbs",
            "expected_climbs",
            "strength_mps",
            "hours",
            "grade",
            "chance_count",
            "flights",
        }
        assert set(told["strength_mps"]) == {"low", "median", "high"}


def test_the_page_stands_alone_and_escapes_every_text(page: str, review: SeasonReview) -> None:
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert not re.search(r'(src|href)="(?!#|data:)', page)
    assert "default-src 'none'" in page
    assert season_bytes(review, "html", SHOW).decode() == page


def test_the_page_says_whether_the_season_changed(page: str) -> None:
    assert re.search(
        r"Glide ratio over ground: season mean .* over 27 flights; from the first day to the last it rose", page
    )
    assert "the season shows no change" in page
    assert "no cause" in page
    assert "Climbs are found where pilots fly" in page
    for title in ("Days flown", "Climbs per hour flown, and the spots", "When climbs began", "Trends", "Months"):
        assert title in page


def test_an_empty_season_has_a_page_too() -> None:
    for ending in ("html", "json", "geojson"):
        assert season_bytes(review_season([]), ending, SHOW)
    alone = season_bytes(review_season([made_flight(1, climbs=False)]), "html", SHOW).decode()
    assert "No line is drawn: a line needs 5 days" in alone


def test_words_follow_the_interval() -> None:
    falling = review_season(
        [made_flight(day, ratio=10.0 - 0.05 * day + 0.1 * (-1) ** day) for day in range(1, 60, 4)]
    )
    assert re.search(r"it fell by [12]\.\d+ \(0?[12]?\.\d+ to", trend_text(falling.trends[0], SHOW))
    none = review_season([made_flight(1, landings=0)])
    assert "where they are looked for" in go_around_text(none.go_arounds, SHOW)
    assert "No spot stands out" in region_text(none.thermals[0], SHOW)


def test_charts_hold_every_flight_and_every_day(review: SeasonReview) -> None:
    trend = review.trends[0]
    (panel,) = trend_chart(trend, SHOW).panels
    dots = next(series for series in panel.series if series.kind == "dots")
    assert dots.y == tuple(point.figure.value for point in trend.points)
    calendar = calendar_chart(review.days, SHOW)
    assert len(calendar.panels[0].cells) == len(review.days)
    assert chart_svg(calendar).count("<rect") == len(review.days) + 1 + 3  # clip path and legend
    year = date_ticks(1.78e9, 1.78e9 + 365 * 86400.0, SHOW)
    assert 3 <= len(year) <= 5
    assert all(re.fullmatch(r"20\d\d-\d\d", text) for _, text in year)
    for days in range(60):  # with the year, since 04-05 may be two days; ISO 8601
        ticks = date_ticks(1.78e9, 1.78e9 + days * 86400.0, SHOW)
        assert 1 <= len(ticks) <= 4
        assert all(re.fullmatch(r"20\d\d-\d\d-\d\d", text) for _, text in ticks)


def test_wings_have_marks_and_lines_of_their_own() -> None:
    wings = [("Anna", "Red"), ("Anna", "Blue"), ("Bert", "Red")]
    flights = [
        made_flight(day, ratio=6.0 + 2.0 * (day % 3) + 0.02 * day + 0.1 * (-1) ** day, pilot=pilot, wing=wing)
        for day in range(1, 60, 2)
        for pilot, wing in [wings[day % 3]]
    ]
    trend = review_season(flights).trends[0]
    assert [(level.pilot, level.wing, level.flights) for level in trend.levels] == [
        ("Anna", "Blue", 10), ("Anna", "Red", 10), ("Bert", "Red", 10)
    ]  # fmt: skip
    chart = trend_chart(trend, SHOW)
    (panel,) = chart.panels
    assert {(mark.kind, mark.label) for mark in panel.marks} == {
        ("wing_1", "Anna, Blue"), ("wing_2", "Anna, Red"), ("wing_3", "Bert, Red")
    }  # fmt: skip
    assert len({MARKS[f"wing_{number}"][1] for number in range(1, MOST_WINGS + 1)}) == MOST_WINGS  # shapes
    lines = {series.kind: series for series in panel.series if series.kind.startswith("wing_")}
    slopes = [(line.y[1] - line.y[0]) / (line.x[1] - line.x[0]) for line in lines.values()]
    assert slopes == pytest.approx([0.02 / 86400.0] * 3, rel=0.1)  # one, as made
    at_first = [line.y[0] - 0.02 / 86400.0 * (line.x[0] - lines["wing_1"].x[0]) for line in lines.values()]
    assert at_first == pytest.approx([8.02, 6.02, 10.02], abs=0.2)  # days 1, 3 and 2 of three
    svg = chart_svg(chart)
    for words in ("Anna, Blue", "Bert, Red", "one slope for all"):
        assert svg.count(words) == 1 + chart.description.count(words)
    assert (
        trend_texts(review_season(flights).trends, SHOW).count(
            "3 wings or pilots: each has a level of its own, and all share one slope."
        )
        == 1
    )


def test_more_wings_than_marks_share_one_and_names_stay_short() -> None:
    flights = [made_flight(day, wing=f"{'long ' * 20}{day % 9}") for day in range(1, 100, 2)]
    trend = review_season(flights).trends[0]
    labels = {mark.label for mark in trend_chart(trend, SHOW).panels[0].marks}
    assert len(labels) == MOST_WINGS + 1
    assert "3 other wings or pilots" in labels
    assert max(map(len, labels)) <= 30


def test_what_is_the_same_for_all_figures_is_said_once() -> None:
    texts = trend_texts(review_season([made_flight(1), made_flight(2)]).trends, SHOW)
    assert sum("No line is drawn: a line needs 5 days" in text for text in texts) == 1


def test_a_remark_on_some_figures_names_them() -> None:
    flights = [made_flight(1), replace(made_flight(2), mean_climb_mps=None)]
    trends = review_season(flights).trends
    first, second = (replace(trend, note=note) for trend, note in zip(trends[:2], ("one", "one"), strict=True))
    other = replace(trends[2], note="another")
    texts = trend_texts([first, second, other, replace(trends[3], note="another")], SHOW)
    assert "Glide ratio over ground and glide ratio through the air: no line is drawn: one." in texts


def test_pdf_holds_the_same_words(review: SeasonReview) -> None:
    from io import BytesIO

    from pypdf import PdfReader

    reader = PdfReader(BytesIO(season_bytes(review, "pdf", SHOW)))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert "Where climbs come from" in text
    assert "the season shows no change" in text


def test_only_files_of_this_command_are_renewed(tmp_path: Path) -> None:
    for ending in ("html", "json", "geojson", "pdf"):
        content = season_bytes(review_season([]), ending, SHOW)
        path = write_season_review(content, tmp_path, ending)
        write_season_review(content, tmp_path, ending)
        path.write_text("mine", encoding="utf-8")
        with pytest.raises(ReportError, match="left alone"):
            write_season_review(content, tmp_path, ending)
        assert path.read_text(encoding="utf-8") == "mine"


def test_the_command_writes_a_page_from_logs_and_tells_wrong_use(tmp_path: Path) -> None:
    run = CliRunner().invoke
    log = str(SAMPLES / "top-landing-day.igc")
    out = tmp_path / "reports"
    done = run(main, ["season", log, "--to", "html,geojson", "--out", str(out), "--quiet"])
    assert done.exit_code == 0, done.output
    assert (out / "season.html").read_text(encoding="utf-8").startswith("<!doctype html>")
    assert json.loads((out / "season.geojson").read_text(encoding="utf-8"))["type"] == "FeatureCollection"
    assert run(main, ["season"]).exit_code == 2
    assert run(main, ["season", log, "--to", "csv"]).exit_code == 2
    assert run(main, ["season", log, "--to", "html,json", "--out", "-"]).exit_code == 2


def test_the_command_reads_a_logbook_with_its_corrections(tmp_path: Path) -> None:
    run = CliRunner().invoke
    book = str(tmp_path / "book.db")
    added = run(main, ["book", "add", str(SAMPLES / "top-landing-day.igc"), "--book", book])
    assert added.exit_code == 0, added.output
    corrected = run(main, ["book", "correct", "1", "--book", book, "--wing", "Other wing", "--place", "Knoll"])
    assert corrected.exit_code == 0, corrected.output
    done = run(main, ["season", "--book", book, "--to", "json", "--out", "-"])
    assert done.exit_code == 0, done.output
    document = json.loads(done.stdout)
    assert document["flights"] >= 1
    assert "Knoll" in [place["name"] for place in document["places"]]
    of_the_book = run(main, ["book", "season", "--to", "json", "--out", "-"], env={"FLIGHTLOG_BOOK": book})
    assert of_the_book.stdout == done.stdout
    assert "season " in run(main, ["book", "--help"]).stdout
