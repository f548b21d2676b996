"""The comparison in a real browser, network off: the play-back moves, by the clock and from each start."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, Page, sync_playwright

from flightlog.commands.main import main
from tests.unit.made_debrief import HOSTILE

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
DAY = Path(__file__).resolve().parents[2] / "sample_tracks" / "task-day"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # fails, and is not skipped, where there is no browser: .ci/run installs one
    with sync_playwright() as play:
        options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = play.chromium.launch(executable_path=CHROMIUM, args=options)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def report(tmp_path_factory) -> Path:
    """The race of the samples, one pilot's name an attack."""
    folder = tmp_path_factory.mktemp("race")
    for log in DAY.glob("*.igc"):
        text = log.read_text(encoding="ascii")
        (folder / log.name).write_text(text.replace("Iko Brandevar", HOSTILE.replace("\n", " ")), encoding="utf-8")
    out = folder / "out"
    result = CliRunner().invoke(
        main, ["compare", "--task", str(DAY / "task.toml"), str(folder), "--jobs", "1", "--out", str(out)]
    )
    assert result.exit_code == 0
    return next(out.glob("*.html"))


@pytest.fixture(params=[(1280, "light"), (360, "dark")], ids=["wide", "phone"])
def page(request, browser, report) -> Iterator[Page]:
    width, scheme = request.param
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme, offline=True)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda one: asked.append(one.url))
    page.on("console", lambda one: said.append(one.text))
    page.on("pageerror", lambda one: said.append(str(one)))
    page.on("dialog", lambda one: said.append(one.message))
    page.goto(report.as_uri())
    yield page
    assert asked == [report.as_uri()]
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()


def ways_left(page: Page) -> list[str]:
    return page.locator("#playback tbody tr td:last-child").all_inner_texts()


def dots(page: Page) -> str:
    return page.evaluate("document.querySelector('#playback canvas').toDataURL()")


def test_the_slider_moves_the_pilots(page):
    slider, told = page.locator("#playback-time"), page.locator("#playback-told")
    before, picture = told.inner_text(), dots(page)
    assert slider.get_attribute("aria-valuetext") == before
    slider.focus()
    for _ in range(3):
        page.keyboard.press("PageUp")
    assert told.inner_text() > before
    assert dots(page) != picture
    slider.evaluate("one => { one.value = one.max; one.dispatchEvent(new Event('input')); }")
    left = ways_left(page)
    assert len(left) == 4
    assert "0.0" in left or "–" in left


def test_it_plays_and_pauses(page):
    button, told = page.locator("#playback-play"), page.locator("#playback-told")
    before = told.inner_text()
    button.click()
    assert button.inner_text() == "Pause"
    page.wait_for_function("old => document.getElementById('playback-told').textContent !== old", arg=before)
    button.click()
    assert button.inner_text() == "Play"
    stands = told.inner_text()
    page.wait_for_timeout(150)
    assert told.inner_text() == stands


def test_counted_from_each_start_all_have_the_whole_way_to_go(page):
    page.locator("input[value=start]").check()
    assert page.locator("#playback-told").inner_text() == "0:00:00 after the start"
    page.locator("#playback-time").evaluate("one => { one.value = -20; one.dispatchEvent(new Event('input')); }")
    assert page.locator("#playback-told").inner_text() == "0:00:20 before the start"
    assert len(set(ways_left(page))) == 1
    page.locator("input[value=clock]").check()
    spread = [float(one) for one in ways_left(page) if one != "–"]
    assert "after" not in page.locator("#playback-told").inner_text()
    assert spread


def test_names_are_text(page):
    assert "<script>alert('x')</script>" in page.locator("#playback tbody").inner_text()
