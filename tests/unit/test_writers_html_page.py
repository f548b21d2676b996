"""The page as HTML: one file, every text escaped, the same bytes every time."""

from __future__ import annotations

import base64
import hashlib
import math
import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from flightlog.air.recorder_check import RecorderCheck
from flightlog.writers.html_page import html_page
from flightlog.writers.live_scripts import live_scripts
from flightlog.writers.page import page_of
from flightlog.writers.page_parts import Chart, Panel, Series
from flightlog.writers.svg_charts import chart_svg
from tests.unit.made_debrief import HOSTILE, made_debrief, made_flight, without_flights

VOID = {"meta", "link", "br", "img", "hr", "input", "wbr"}


class Outline(HTMLParser):
    """Elements, ids, links and texts of a page; notes what is not closed."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


@pytest.fixture(scope="module")
def page() -> str:
    return without_scripts(html_page(page_of(made_debrief())).decode())


SCRIPT = re.compile("<script>(.*?)</script>", re.DOTALL)


def without_scripts(html: str) -> str:
    """The page without what runs in it, which must be ours or the library's, to the letter."""
    assert tuple(SCRIPT.findall(html)) in ((), live_scripts())
    return SCRIPT.sub("", html)


def outline(html: str) -> Outline:
    found = Outline()
    found.feed(html)
    assert found.open == []
    return found


def test_the_check_against_the_recorder_is_escaped_and_left_out_without_one(page):
    assert "recorder's own columns" not in page
    told = page_of(replace(made_debrief(), recorder_check=(RecorderCheck("wind", 900, 0.4, 1.1, 1.1, None, 1.0),)))
    checked = without_scripts(html_page(replace(told, checks=(*told.checks, HOSTILE))).decode())
    assert "Over 900 fixes the wind found here is" in checked
    assert "<h3>Check against the recorder's own columns</h3>" in checked
    assert "<script>" not in checked
    assert HOSTILE in "".join(outline(checked).text)


def test_it_is_well_formed_and_every_id_is_used_once(page):
    ids = [attributes["id"] for _, attributes in outline(page).tags if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_every_reference_inside_the_page_leads_somewhere(page):
    ids = {attributes.get("id") for _, attributes in outline(page).tags}
    for target in re.findall(r'(?:href="#|url\(#|aria-labelledby=")([^")]+)', page):
        assert target in ids


def test_only_the_scripts_named_by_their_digests_may_run():
    html = html_page(page_of(made_debrief())).decode()
    policy = re.search('http-equiv="Content-Security-Policy" content="([^"]*)"', html)[1]
    digests = [base64.b64encode(hashlib.sha256(one.encode()).digest()).decode() for one in SCRIPT.findall(html)]
    assert len(digests) == 3
    scripts = " ".join(["script-src", *(f"'sha256-{one}'" for one in digests)])
    assert policy.split("; ") == ["default-src 'none'", "style-src 'unsafe-inline'", "img-src data:", scripts]
    assert "Redistribution and use in source and binary forms" in html  # the library's licence goes with it


def test_a_page_without_flights_has_no_scripts():
    html = html_page(page_of(without_flights())).decode()
    assert "<script" not in html
    assert "script-src" not in html


def test_nothing_is_fetched_and_nothing_runs(page):
    tags = outline(page).tags
    assert [attributes for tag, attributes in tags if tag == "script"] == [
        {"type": "application/json", "id": "flight-1-fixes"}
    ]
    assert not {tag for tag, _ in tags} & {"img", "iframe", "object", "embed", "form", "audio", "video"}
    for _, attributes in tags:
        assert not any(name.startswith("on") for name in attributes)
        for name in ("src", "href", "xlink:href", "action", "data"):
            assert (attributes.get(name) or "#").startswith(("#", "data:,"))
    assert "@import" not in page
    assert not re.search(r"url\((?!#)", page)


def test_hostile_texts_are_text():
    hostile = made_debrief(pilot=HOSTILE, file=HOSTILE, place=HOSTILE, note=HOSTILE)
    found = outline(without_scripts(html_page(page_of(hostile)).decode()))
    assert sum(tag == "script" for tag, _ in found.tags) == 1  # the data of the live charts
    assert "".join(found.text).count("<script>alert('x')</script>") >= 5
    assert "49" not in [text.strip() for text in found.text]


def test_the_report_says_which_log_it_is_of(page):
    tags = outline(page).tags
    metas = {attributes.get("name"): attributes.get("content") for tag, attributes in tags if tag == "meta"}
    assert metas["generator"] == "flightlog 0.1.0"
    assert metas["flightlog-log-sha256"] == "ab" * 32


def test_heads_of_tables_have_a_scope(page):
    heads = [attributes for tag, attributes in outline(page).tags if tag == "th"]
    assert heads
    assert all(attributes.get("scope") in ("col", "row") for attributes in heads)


def test_every_chart_has_words_for_those_who_do_not_see_it(page):
    charts = [
        attributes for tag, attributes in outline(page).tags if tag == "svg" and "aria-hidden" not in attributes
    ]
    assert len(charts) == 7
    assert all(attributes.get("role") == "img" and len(attributes["aria-label"]) > 40 for attributes in charts)


def test_the_same_debrief_gives_the_same_bytes():
    assert html_page(page_of(made_debrief())) == html_page(page_of(made_debrief()))


def test_a_log_without_flights_has_a_page():
    assert b"This log holds no flight" in html_page(page_of(without_flights()))


def test_a_flight_with_nothing_known_has_a_page():
    flight = made_flight()
    bare = replace(
        flight,
        max_climb_mps=None,
        max_sink_mps=None,
        phases=(),
        launch=None,
        climbs=(),
        glides=(),
        passes=(),
        approach=None,
        wind=replace(flight.wind, mean=None, profile=(), estimates=()),
        performance=replace(flight.performance, glide_ratio_ground=None, glide_ratio_air=None, polar=None),
    )
    debrief = made_debrief()
    debrief = replace(debrief, flights=(bare,), spans=(replace(debrief.spans[0], phases=()),), pass_spans=((),))
    html = without_scripts(html_page(page_of(debrief)).decode())
    assert "not known" in html
    assert "None" not in html
    assert "nan" not in re.sub(r"<svg.*?</svg>|<style.*?</style>", "", html, flags=re.DOTALL).lower().split()


def test_charts_keep_hostile_labels_as_text():
    series = Series((0.0, 1.0), (0.0, 1.0), "landed", HOSTILE)
    svg = chart_svg(Chart("c", HOSTILE, HOSTILE, "one", (Panel("x", HOSTILE, (series,)),)))
    found = outline(svg)
    assert not any(tag == "script" for tag, _ in found.tags)
    assert "<script>alert('x')</script>" in "".join(found.text)


def test_chart_colours_are_those_of_the_page(page):
    drawn = re.sub(r"<style.*?</style>", "", page, flags=re.DOTALL)
    assert not re.search(r'(fill|stroke)[:=" ]+#', drawn)
    assert "var(--chart-climb)" in drawn


def test_a_map_has_one_scale_and_north_up():
    angles = [math.radians(angle) for angle in range(0, 361, 5)]
    circle = Series(tuple(map(math.sin, angles)), tuple(map(math.cos, angles)), "glide")
    far = Series((0.0, 7.0), (0.0, 0.0), "climb")  # makes the map much wider than high
    north = Series((0.0, 0.001), (1.0, 1.0), "approach")
    svg = chart_svg(
        Chart("c", "", "", "one", (Panel("km", "", (circle, far, north), has_equal_scales=True, is_map=True),))
    )

    def corners(colour: str) -> tuple[float, float, float, float]:
        drawn = re.search(rf'<path d="([^"]+)"[^>]*stroke="var\(--chart-{colour}\)', svg)
        numbers = [float(number) for number in re.findall(r"-?[\d.]+", drawn[1])]
        return min(numbers[::2]), max(numbers[::2]), min(numbers[1::2]), max(numbers[1::2])

    left, right, top, bottom = corners("glide")
    assert right - left == pytest.approx(bottom - top, rel=0.01)
    assert corners("climb")[1] - corners("climb")[0] == pytest.approx(3.5 * (right - left), rel=0.01)
    assert corners("approach")[2] == pytest.approx(top, abs=0.5)  # smaller y is higher on a screen
