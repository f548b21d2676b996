"""The landing review opened from disk in a real browser, network off: no request, no error; phone, dark, names."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

from flightlog.landings.reviewing import review_landings
from flightlog.writers.display import Display
from flightlog.writers.landings_page import landings_page
from tests.unit.made_debrief import HOSTILE
from tests.unit.made_landings import made_log, valley_log

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
SEASON = [
    *(replace(made_log(1 + k % 6, k % 4), sha256=f"{k:064x}", file=f"flight-{k}.igc") for k in range(24)),
    valley_log(7),
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
def pages(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("landings")
    made = {
        "season": SEASON,
        "hostile": [replace(made_log(1, 1), file=HOSTILE)],
        "long": [replace(made_log(1, 3), file="x" * 250 + ".igc")],
        "empty": [],
    }
    for name, logs in made.items():
        (folder / f"{name}.html").write_bytes(landings_page(review_landings(logs), Display()))
    return {name: folder / f"{name}.html" for name in made}


@pytest.mark.parametrize("name", ["season", "hostile", "long", "empty"])
@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (360, "dark")])
def test_it_opens_without_request_error_or_sideways_scrolling(browser, pages, name, width, scheme):
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme, offline=True)
    page = context.new_page()
    asked, said = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("dialog", lambda dialog: said.append(dialog.message))
    page.goto(pages[name].as_uri())
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_touchdowns_and_circles_are_as_high_as_wide(browser, pages):
    """Equal scales: the circle of the place's radius is a circle on the screen."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.goto(pages["season"].as_uri())
    sizes = page.evaluate(
        """[...document.querySelectorAll('svg[aria-label*="top 1 from above"] path')]
           .map(path => path.getBoundingClientRect())
           .filter(box => box.width > 150 && Math.abs(box.width - box.height) < 3).length"""
    )
    assert sizes >= 1
    page.close()


def test_the_definition_of_a_pass_unfolds(browser, pages):
    page = browser.new_page(viewport={"width": 800, "height": 900})
    page.goto(pages["season"].as_uri())
    row = page.get_by_text("pass_ceiling_m")
    assert not row.is_visible()
    page.get_by_text("What counts as a pass").click()
    assert row.is_visible()
    page.close()
