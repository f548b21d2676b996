"""Pages opened from disk in a real browser, network off: no request, no error; phone, dark, paper."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

from flightlog.writers.files import write_html
from tests.browser.live_readers import ready
from tests.unit.made_debrief import HOSTILE, made_debrief, without_flights

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"


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
    folder = tmp_path_factory.mktemp("pages")
    hostile = made_debrief(pilot=HOSTILE, file=HOSTILE, place=HOSTILE, note=HOSTILE)
    long_names = made_debrief(pilot="W" * 300, file="x" * 200 + ".igc", place="Y" * 120)
    return {
        "plain": write_html(made_debrief(), folder / "plain.html"),
        "hostile": write_html(hostile, folder / "hostile.html"),
        "long": write_html(long_names, folder / "long.html"),
        "empty": write_html(without_flights(), folder / "empty.html"),
    }


class Opened:
    """A page opened from its file, with everything it asked for and complained of."""

    def __init__(
        self, browser: Browser, path: Path, width: int = 1200, scheme: str = "light", *, script: bool = True
    ) -> None:
        self.context = browser.new_context(
            viewport={"width": width, "height": 800}, color_scheme=scheme, offline=True, java_script_enabled=script
        )
        self.page: Page = self.context.new_page()
        self.requests: list[str] = []
        self.complaints: list[str] = []
        self.page.on("request", lambda request: self.requests.append(request.url))
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("dialog", lambda dialog: self.complaints.append(dialog.message) or dialog.dismiss())
        self.page.goto(path.as_uri())

    def __enter__(self) -> Opened:
        return self

    def __exit__(self, *_: object) -> None:
        self.context.close()


@pytest.mark.parametrize("name", ["plain", "hostile", "empty"])
def test_it_opens_from_disk_with_no_request_and_no_complaint(browser, pages, name):
    with Opened(browser, pages[name]) as opened:
        assert opened.requests == [pages[name].as_uri()]
        assert opened.complaints == []
        assert opened.page.title() == "Soaring log of 2026-06-14"


@pytest.mark.parametrize("name", ["plain", "hostile", "long", "empty"])
@pytest.mark.parametrize("width", [320, 360, 768, 1600])
def test_it_never_scrolls_sideways(browser, pages, name, width):
    with Opened(browser, pages[name], width) as opened:
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= width


def test_wide_tables_scroll_in_their_boxes_on_a_phone(browser, pages):
    with Opened(browser, pages["plain"], 360) as opened:
        box = opened.page.get_by_role("region", name="Climbs, table")
        assert box.evaluate("e => e.scrollWidth > e.clientWidth")
        box.evaluate("e => e.scrollLeft = 200")
        assert box.evaluate("e => e.scrollLeft") == 200
        assert box.evaluate("e => e.tabIndex") == 0


def test_every_chart_is_drawn_and_inside_the_page_without_scripts(browser, pages):
    with Opened(browser, pages["plain"], 360, script=False) as opened:
        charts = opened.page.locator("figure svg").all()
        assert len(charts) == 7
        for chart in charts:
            box = chart.bounding_box()
            assert box is not None
            assert box["height"] > 100
            assert chart.locator("path").count() >= 4
        assert not opened.page.locator(".live").is_visible()
        assert opened.page.locator("button:visible").count() == 0
        assert opened.requests == [pages["plain"].as_uri()]


def test_hostile_names_appear_as_text(browser, pages):
    with Opened(browser, pages["hostile"]) as opened:
        ready(opened.page)
        assert opened.page.get_by_text("<script>alert('x')</script>").first.is_visible()
        assert opened.page.locator("script:not([type])").count() == 3  # the library's two and ours
        assert opened.complaints == []


def test_dark_readers_get_a_dark_page_with_light_charts(browser, pages):
    colours = {}
    for scheme in ("light", "dark"):
        with Opened(browser, pages["plain"], scheme=scheme) as opened:
            colours[scheme] = opened.page.evaluate(
                """() => [getComputedStyle(document.body).backgroundColor,
                    getComputedStyle(document.querySelector('figure svg text')).fill]"""
            )
    assert colours["light"] == ["rgb(252, 251, 247)", "rgb(28, 34, 39)"]
    assert colours["dark"] == ["rgb(20, 24, 27)", "rgb(232, 234, 236)"]


def test_it_prints_with_everything_unfolded(browser, pages, tmp_path):
    with Opened(browser, pages["plain"]) as opened:
        opened.page.pdf(path=tmp_path / "page.pdf", prefer_css_page_size=True)
        opened.page.emulate_media(media="print")
        assert opened.page.get_by_text("longest_bridge_s").is_visible()
        assert not opened.page.locator(".live").is_visible()
        assert opened.page.locator("figure svg:visible").count() == 7
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")


def test_the_settings_are_folded_on_screen_and_open_by_keyboard(browser, pages):
    with Opened(browser, pages["plain"]) as opened:
        row = opened.page.get_by_text("longest_bridge_s")
        assert not row.is_visible()
        opened.page.locator("summary", has_text="Settings used").focus()
        opened.page.keyboard.press("Enter")
        assert row.is_visible()


def test_the_list_of_flights_leads_to_each(browser, pages):
    with Opened(browser, pages["plain"]) as opened:
        opened.page.get_by_role("link", name="Flight 1").click()
        assert opened.page.url.endswith("#flight-1")
        assert opened.page.locator("#flight-1").bounding_box()["y"] < 400


def test_what_the_flight_says_leads_to_the_table_or_row_that_shows_it(browser, pages):
    with Opened(browser, pages["plain"]) as opened:
        links = opened.page.locator(".findings a")
        assert 3 <= links.count() <= 7
        folded = 0
        for number in range(links.count()):
            target = links.nth(number).get_attribute("href")
            place = opened.page.locator(target)
            folded += not place.locator("xpath=ancestor-or-self::tr | following-sibling::*").first.is_visible()
            links.nth(number).click()
            shown = place.locator("xpath=ancestor-or-self::tr | following-sibling::*").first
            assert shown.is_visible()
            assert -1.0 <= place.evaluate("element => element.getBoundingClientRect().top") < 800.0
        assert folded  # a link unfolds the table that it leads into
