"""The season page opened from disk in a real browser, network off: no request, no error; phone, dark, names."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from flightlog.season.reviewing import review_season
from flightlog.writers.display import Display
from flightlog.writers.season_page import season_page
from tests.unit.made_debrief import HOSTILE
from tests.unit.made_season import made_flight

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
FLIGHTS = [
    made_flight(day, place=HOSTILE, pilot=HOSTILE, wing=HOSTILE, go_arounds=day % 2) for day in range(1, 60, 3)
]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # fails, and is not skipped, where there is no browser: .ci/run installs one
    with sync_playwright() as play:
        options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = play.chromium.launch(executable_path=CHROMIUM, args=options)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("season")
    long_name = replace(FLIGHTS[0].takeoff, place="x" * 200)
    made = {"season": FLIGHTS, "long": [replace(FLIGHTS[0], takeoff=long_name)], "empty": []}
    for name, flights in made.items():
        (folder / f"{name}.html").write_bytes(season_page(review_season(flights), Display()))
    return {name: folder / f"{name}.html" for name in made}


@pytest.mark.parametrize("name", ["season", "long", "empty"])
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (360, "dark")])
def test_it_opens_without_request_error_or_sideways_scrolling(
    browser: Browser, pages: dict[str, Path], name: str, width: int, scheme: str
) -> None:
    context = browser.new_context(viewport={"width": width, "height": 9000}, color_scheme=scheme, offline=True)  # type: ignore[arg-type]
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    page.goto(pages[name].as_uri())
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    wide = "[...document.querySelectorAll('figure svg')].every(s => s.getBoundingClientRect().right <= innerWidth)"
    assert page.evaluate(wide)
    context.close()


def test_names_are_text_and_maps_have_equal_scales(browser: Browser, pages: dict[str, Path]) -> None:
    page = browser.new_page(viewport={"width": 1280, "height": 9000})
    page.goto(pages["season"].as_uri())
    assert page.locator("script").count() == 0
    assert page.locator("#places + * , #places ~ *").filter(has_text="<script>alert").count() >= 1
    figure = page.locator("figure", has_text="Climbs per hour flown, and the spots")
    boxes = figure.locator("g rect:has(title)").evaluate_all(
        "all => all.map(r => r.getBoundingClientRect()).map(b => [b.width, b.height])"
    )
    assert len(boxes) > 10
    assert all(width == pytest.approx(height, rel=0.02) for width, height in boxes)
    assert figure.locator("circle").count() >= 2 + 1  # two spots, and one in the legend
    page.close()


def test_charts_are_there_where_nobody_scrolled_to_them(browser: Browser, pages: dict[str, Path]) -> None:
    # a picture of the whole page, or its print, is taken with all but the first screen never seen
    for media in ("screen", "print"):
        page = browser.new_page(viewport={"width": 1280, "height": 600})
        page.emulate_media(media=media)  # type: ignore[arg-type]
        page.goto(pages["season"].as_uri())
        boxes = page.locator("figure").evaluate_all(
            "all => all.map(f => f.getBoundingClientRect()).map(b => [b.x, b.y, b.width, b.height])"
        )
        assert len(boxes) >= 8
        for x, y, width, height in (boxes[0], boxes[len(boxes) // 2], boxes[-1]):
            area = {"x": x + 8, "y": y + 40, "width": width - 16, "height": height - 48}  # below the title
            drawn = page.screenshot(full_page=True, clip=area)  # type: ignore[arg-type]
            assert len(drawn) > 3000  # a PNG of one colour has 1500 bytes at most
        page.close()
