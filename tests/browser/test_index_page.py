"""The list of reports in a real browser, network off: sorts, works without its script, reads on a phone."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from flightlog.writers.display import Display
from flightlog.writers.index_page import index_page, write_index
from flightlog.writers.index_rows import FlightRow, LogRow, packed
from tests.unit.made_debrief import HOSTILE

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
PLACE, AIR, RATIO = 4, 5, 8  # columns, from 1


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = play.chromium.launch(executable_path=CHROMIUM, args=options)
        yield browser
        browser.close()


def flight(start: float, place: str, duration_s: float, ratio: float | None) -> FlightRow:
    return FlightRow(
        1, "2026-06-14", "13:02:03", "Europe/Rome", start, place, 46.0, 8.0, duration_s, 800.0, 2000.0, ratio, 0,
        packed([(0.0, 0.0), (1.0, 0.7)]),
    )  # fmt: skip


@pytest.fixture(scope="module")
def path(tmp_path_factory) -> Path:
    logs = {
        "a": LogRow("a.igc", "2026-06-14", HOSTILE, None, (flight(3.0, "Crow", 900.0, 10.5),)),
        "b": LogRow("b.igc", "2026-06-14", "Ada", None, (flight(1.0, "Ash", 10000.0, None),)),
        "c": LogRow("x" * 200, "2026-06-14", "Bo", "W" * 150, (flight(2.0, "Birch", 4000.0, 9.25),)),
    }
    content = index_page(logs, dict.fromkeys(logs, ("html", "pdf", "json")), Display())
    return write_index(tmp_path_factory.mktemp("list"), content)


def opened(browser: Browser, path: Path, *, width: int = 1200, script: bool = True) -> tuple[Page, list[str]]:
    context = browser.new_context(
        viewport={"width": width, "height": 800}, offline=True, java_script_enabled=script
    )
    page, complaints = context.new_page(), []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("request", lambda request: complaints.append(request.url) if request.url != path.as_uri() else None)
    page.goto(path.as_uri())
    return page, complaints


def column(page: Page, number: int) -> list[str]:
    cells = page.query_selector_all(f".reports tbody tr > :nth-child({number})")
    return [cell.inner_text().replace("\u00a0", " ") for cell in cells]


def test_it_sorts_by_any_column_both_ways_and_keeps_the_unknown_last(browser, path):
    page, complaints = opened(browser, path)
    assert column(page, PLACE) == ["Ash", "Birch", "Crow"]  # by take-off
    page.get_by_role("button", name="In the air").click()
    assert column(page, AIR) == ["15:00 min", "1:06:40 h", "2:46:40 h"]  # as numbers, not as texts
    page.get_by_role("button", name="In the air").click()
    assert column(page, AIR) == ["2:46:40 h", "1:06:40 h", "15:00 min"]
    for expected in (["9.2", "10.5", "–"], ["10.5", "9.2", "–"]):
        page.get_by_role("button", name="Glide ratio").click()
        assert column(page, RATIO) == expected
    page.get_by_role("button", name="Take-off").click()
    assert column(page, PLACE) == ["Ash", "Birch", "Crow"]
    assert page.get_by_role("columnheader", name="Take-off").get_attribute("aria-sort") == "ascending"
    assert complaints == []


def test_it_is_sorted_from_the_keyboard(browser, path):
    page, _ = opened(browser, path)
    page.get_by_role("button", name="Place").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    assert column(page, PLACE) == ["Crow", "Birch", "Ash"]


def test_without_script_it_is_a_list_with_links(browser, path):
    page, complaints = opened(browser, path, script=False)
    assert page.query_selector(".reports button") is None
    assert column(page, PLACE) == ["Ash", "Birch", "Crow"]
    hrefs = [link.get_attribute("href") for link in page.query_selector_all(".reports tbody tr:first-child a")]
    assert hrefs == ["b.html#flight-1", "b.pdf", "b.json"]
    assert complaints == []


@pytest.mark.parametrize("width", [320, 360, 768, 1600])
def test_it_never_scrolls_sideways(browser, path, width):
    page, complaints = opened(browser, path, width=width)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert complaints == []
