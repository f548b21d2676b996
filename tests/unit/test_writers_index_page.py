"""The list of reports: a row a flight, sorted, linked, escaped, in bounded size."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace

import pytest

from flightlog.errors import ReportError
from flightlog.writers.display import Display
from flightlog.writers.index_page import SKETCH_HEIGHT, SKETCH_WIDTH, index_page, sketch_line, write_index
from flightlog.writers.index_rows import MOST_POINTS, FlightRow, LogRow, log_row, packed
from tests.unit.made_debrief import HOSTILE, made_debrief, without_flights

SHOW = Display(follows_log=True)


def flight(number: int = 1, **other: object) -> FlightRow:
    usual = FlightRow(
        number, "2026-06-14", "13:02:03", "Europe/Rome", 1781434923.0, "Windy Top", 46.0, 8.0, 3725.0, 812.0,
        2110.0, 7.6, 2, packed([(0.0, 0.0), (1.0, 0.5)]),
    )  # fmt: skip
    return replace(usual, **other)


def log(*flights: FlightRow, **other: object) -> LogRow:
    return replace(LogRow("monday.igc", "2026-06-14", "Ada Example", "Some wing", flights), **other)


def text_of(logs: dict[str, LogRow], show: Display = SHOW) -> str:
    return index_page(logs, dict.fromkeys(logs, ("html", "json")), show).decode()


def rows_of(page: str) -> list[str]:
    return re.findall(r"<tr><th scope=\"row\".*?</tr>", page, re.DOTALL)


def test_a_row_a_flight_with_its_figures_and_links():
    page = text_of({"monday": log(flight(1), flight(2, start=1781441923.0, clock="15:00:00"))})
    first, second = rows_of(page)
    assert ">2026-06-14 13:02<" in first
    assert "<small>Europe/Rome</small>" in page
    for cell in ("Windy Top", "1:02:05", ">812<", ">2110<", ">7.6<", ">2<", "Ada Example", "Some wing"):
        assert cell in first.replace("\u00a0h", "")
    assert 'href="monday.html#flight-1"' in first
    assert 'href="monday.json"' in first
    assert 'href="monday.html#flight-2"' in second
    assert "1 log, 2 flights, 2:04:10\u00a0h in the air, 4 go-arounds" in page


def test_rows_are_sorted_by_time_and_a_log_without_flights_has_one():
    page = text_of(
        {
            "a": log(flight(start=300.0), file="third"),
            "b": log(flight(start=100.0), file="first"),
            "c": log(file="last", date=None),
            "d": log(flight(start=200.0), file="second"),
        }
    )
    assert [re.search(r'class="file">(\w+)<', row).group(1) for row in rows_of(page)] == [
        "first", "second", "third", "last",
    ]  # fmt: skip
    assert "no flight" in rows_of(page)[-1]


def test_units_and_what_is_not_known():
    page = text_of({"a": log(flight(gain_m=None, glide_ratio=None), pilot=None)}, Display("aviation"))
    (row,) = rows_of(page)
    assert ">6923<" in row  # 2110 m in feet of 0.3048 m
    assert row.count(">–<") == 3
    assert "<small>ft</small>" in page


def test_flights_in_several_zones_name_theirs():
    page = text_of({"a": log(flight(), flight(2, zone="Europe/Oslo"))})
    assert ">2026-06-14 13:02 Europe/Rome<" in page
    assert ">2026-06-14 13:02 Europe/Oslo<" in page


def test_hostile_texts_are_escaped_in_text_links_and_attributes():
    stem = 'a"><b>#?%.igc'
    page = text_of({stem: log(flight(place=HOSTILE), file=HOSTILE, pilot=HOSTILE, wing=HOSTILE)})
    assert "<script>alert" not in page
    assert page.count("<script>") == 1
    assert 'href="a%22%3E%3Cb%3E%23%3F%25.igc.html#flight-1"' in page


def test_only_our_own_script_may_run():
    page = text_of({"a": log(flight())})
    script = re.search(r"<script>(.*?)</script>", page, re.DOTALL).group(1)
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]*)"', page).group(1)
    assert policy.startswith("default-src 'none'")
    assert f"script-src 'sha256-{digest}'" in policy
    assert "http://" not in page.replace("http://www.w3.org", "")
    assert "https://" not in page


def test_a_sketch_stays_in_its_box_and_keeps_its_shape():
    points = [tuple(map(float, pair.split(","))) for pair in sketch_line([(0.0, 0.0), (0.2, 1.0)]).split(" ")]
    assert all(0.0 <= x <= SKETCH_WIDTH and 0.0 <= y <= SKETCH_HEIGHT for x, y in points)
    (left, low), (right, high) = points
    assert (right - left) / (low - high) == pytest.approx(0.2, abs=0.01)
    assert sketch_line([]) == sketch_line([(0.0, 0.0)]) == ""
    assert sketch_line([(0.0, 0.0), (0.0, 0.0)])  # a log that never moved


def test_a_list_of_thousands_of_flights_stays_small():
    sketch = packed((number / 199.0, (number % 7) / 7.0) for number in range(200))
    page = text_of({f"log{number}": log(flight(sketch=sketch)) for number in range(3000)})
    assert len(rows_of(page)) == 3000
    assert len(page) < 5_000_000
    assert max(points.count(",") for points in re.findall(r'points="([^"]*)"', page)) == 33  # 100 000 / 3000


def test_a_log_becomes_a_row():
    debrief = made_debrief()
    row = log_row(debrief, SHOW)
    (only,) = row.flights
    assert (row.file, row.pilot, row.wing) == ("monday.igc", "Ada Example", "Some wing")
    assert (only.place, only.go_arounds, only.duration_s) == ("Windy Top", 1, 919.0)
    assert only.glide_ratio == debrief.flights[0].performance.glide_ratio_ground.value
    assert 2 <= len(only.sketch_points) <= MOST_POINTS
    assert max(max(place) for place in only.sketch_points) == 1.0
    assert log_row(without_flights(), SHOW).flights == ()


def test_a_packed_sketch_comes_back_to_half_a_thousandth_and_in_four_bytes_a_point():
    places = [(number / 177.0, (number * 37 % 178) / 177.0) for number in range(178)]
    row = flight(sketch=packed(places))
    assert sum(row.sketch_points, ()) == pytest.approx(sum(places, ()), abs=0.0005)
    assert len(row.sketch) == 4 * len(places)
    with pytest.raises(ValueError, match="a sketch has 4 bytes a point, found 3"):
        flight(sketch=b"abc")


def test_our_own_list_is_renewed_and_another_page_is_left_alone(tmp_path):
    first = write_index(tmp_path, index_page({"a": log(flight())}, {"a": ("html",)}, SHOW))
    assert write_index(tmp_path, b"<!doctype html>new") == first
    with pytest.raises(ReportError, match="no list of reports stands there, and was left alone"):
        write_index(tmp_path, b"newer")
    assert first.read_bytes() == b"<!doctype html>new"
    write_index(tmp_path, b"newer", force=True)
    assert first.read_bytes() == b"newer"
