"""The live charts of a page in a real browser, network off: one pointer for all plots, tables, slider, zoom."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, sync_playwright

from flightlog import debrief, read_places, read_track
from flightlog.debriefing import Debrief
from flightlog.writers.files import write_html
from tests.browser.live_readers import dot, part, point, ready, seconds, settle, stretch, told

SAMPLES = Path(__file__).resolve().parents[2] / "sample_tracks"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
MOVES_A_SECOND, FEWEST_FRAMES = 40, 10
"""A machine at rest shows 60 frames a second, the target is 30; the bound leaves room for one that is not."""
MOST_TO_OPEN_S, MOST_A_MOVE_S = 2.0, 0.02
"""Processor seconds of the page's own thread, which a busy machine doubles: 0.7 until it can be used and 0.007 for
a move of the pointer were measured on one. The target is to be usable within a second."""


@pytest.fixture(scope="module")
def day() -> Debrief:
    places = read_places(SAMPLES / "places.geojson")
    return debrief(read_track(SAMPLES / "top-landing-day.igc"), places=places)


@pytest.fixture(scope="module")
def path(day, tmp_path_factory) -> Path:
    return write_html(day, tmp_path_factory.mktemp("live") / "day.html")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # fails, and is not skipped, where there is no browser: .ci/run installs one
    with sync_playwright() as play:
        options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = play.chromium.launch(executable_path=CHROMIUM, args=options)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def page(browser, path) -> Iterator[Page]:
    """One page for all tests: each begins with the whole flight shown."""
    context = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
    page = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda one: asked.append(one.url))
    page.on("console", lambda one: said.append(one.text))
    page.on("pageerror", lambda one: said.append(str(one)))
    page.goto(path.as_uri())
    yield page
    assert asked == [path.as_uri()]
    assert said == []
    context.close()


@pytest.fixture
def live(page) -> Locator:
    live = ready(page)
    part(live, "whole").evaluate("(button) => button.click()")
    settle(live)
    return live


def test_it_is_ready_soon_and_later_flights_wait_until_they_are_near(browser, path):
    context = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
    page = context.new_page()
    spent = thread_clock(page)
    start, before = time.perf_counter(), spent()
    page.goto(path.as_uri())
    ready(page)
    waited, took = time.perf_counter() - start, spent() - before
    print(f"\nready after {waited:.2f} s on the clock, {took:.2f} s of the page's processor time")
    assert took < MOST_TO_OPEN_S
    second = page.locator(".live").nth(1)
    assert second.get_attribute("data-state") is None
    assert second.locator("canvas").count() == 0
    ready(page, 2)
    assert second.locator("canvas").count() >= 3
    context.close()


def thread_clock(page: Page) -> Callable[[], float]:
    """Reads the processor time that the page's thread has spent, seconds."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def spent() -> float:
        figures = session.send("Performance.getMetrics")["metrics"]
        return next(one["value"] for one in figures if one["name"] == "ThreadTime")

    return spent


def test_pointing_at_a_moment_shows_the_place_on_the_track(live, day):
    point(live, "altitude", 0.3, 0.5)
    first, place = told(live), dot(live, "track")
    point(live, "altitude", 0.9, 0.5)
    second = told(live)
    assert seconds(second.time) > seconds(first.time)
    assert dot(live, "track") != place
    assert second.phase in ("approach", "climb")
    assert first.speed.endswith("km/h")
    assert first.climb.endswith("m/s")
    altitudes = dict(zip(*clock_and(day, day.motion.altitude_m), strict=True))
    for one in (first, second):
        assert float(one.altitude.removesuffix("\u00a0m")) == pytest.approx(altitudes[one.time], abs=1.0)


def clock_and(day, values) -> tuple[list[str], list[float]]:
    """Times of day at the place of the sample (8 hours before UTC's) and figures of all fixes."""
    clocks = [time.strftime("%H:%M:%S", time.gmtime(one + 8 * 3600)) for one in day.motion.time_s]
    return clocks, values.tolist()


def test_pointing_at_the_track_shows_the_moment_over_time(live):
    point(live, "altitude", 0.5, 0.5)
    moment, x = told(live).time, dot(live, "altitude")[0]
    place = dot(live, "track")
    point(live, "altitude", 0.95, 0.5)
    assert told(live).time != moment
    live.page.mouse.move(*place)
    found = dot(live, "track")
    assert found == pytest.approx(place, abs=3.0)  # the nearest fix, of whichever beat
    point(live, "climb", 0.5, 0.5)
    assert dot(live, "altitude")[0] == pytest.approx(x, abs=1.5)
    assert dot(live, "climb")[0] == pytest.approx(x, abs=1.5)


def test_the_dot_lies_under_the_mouse_and_on_the_curve(live):
    box = part(live, "altitude").bounding_box()
    x = box["x"] + 0.6 * box["width"]
    live.page.mouse.move(x, box["y"] + 20)
    assert dot(live, "altitude")[0] == pytest.approx(x, abs=1.5)
    levels = []
    for across in (0.2, 0.4, 0.6, 0.8, 0.95):
        point(live, "altitude", across, 0.5)
        levels.append((float(told(live).altitude.removesuffix("\u00a0m")), dot(live, "altitude")[1]))
    (low, y_low), (high, y_high) = min(levels), max(levels)
    for altitude, y in levels:  # a straight scale, up is up
        assert y == pytest.approx(y_low + (altitude - low) / (high - low) * (y_high - y_low), abs=3.0)


def test_choosing_a_pass_shows_it_alone_from_mouse_and_keyboard(live, day):
    flight = day.flights[0]
    for number in (2, 3):
        button = live.page.get_by_role("button", name=f"Pass {number}, show in the charts").first
        button.focus()
        live.page.keyboard.press("Enter") if number == 2 else button.click()
        start, end = stretch(live)
        one = flight.passes[number - 1]
        took = (one.end - one.start).total_seconds()
        clock = (one.start.timestamp() + 8 * 3600) % 86400
        assert start == pytest.approx(clock - 0.06 * took, abs=2)
        assert end - start == pytest.approx(1.12 * took, abs=3)
        assert seconds(told(live).time) == pytest.approx(clock, abs=2)
        assert live.page.locator("tr.is-chosen").count() == 1
    part(live, "whole").click()
    start, end = stretch(live)
    assert end - start == pytest.approx(flight.duration_s, abs=5)
    assert part(live, "whole").is_disabled()


def test_a_finding_shows_its_evidence_in_the_charts_too(live):
    links = live.page.locator("section.flight").first.locator(".findings a").all()
    rows = [link.get_attribute("href") for link in links]
    (number, link) = next((k, one) for k, one in enumerate(links) if live.page.locator(f"tr{rows[k]}").count())
    link.evaluate("(one) => one.click()")
    live.page.wait_for_selector(f"tr{rows[number]}.is-chosen")
    row = live.page.locator(f"tr{rows[number]}")
    took = float(row.get_attribute("data-to")) - float(row.get_attribute("data-from"))
    start, end = stretch(live)
    assert end - start == pytest.approx(1.12 * took, abs=3)


def test_a_stretch_of_time_cuts_the_track_and_the_other_plot(live):
    scale = part(live, "scale").bounding_box()["width"], part(live, "scale").inner_text()
    whole = part(live, "track").screenshot()
    box = part(live, "climb").bounding_box()
    mouse = live.page.mouse
    mouse.move(box["x"] + 0.90 * box["width"], box["y"] + 40)
    mouse.down()
    mouse.move(box["x"] + 0.95 * box["width"], box["y"] + 60, steps=4)
    mouse.up()
    start, end = stretch(live)
    assert 60 < end - start < 400
    assert part(live, "track").screenshot() != whole
    assert (part(live, "scale").bounding_box()["width"], part(live, "scale").inner_text()) != scale
    shown = []
    for plot in ("altitude", "climb"):  # both plots over time show the same stretch
        point(live, plot, 0.5, 0.5)
        shown.append(told(live).time)
        assert start <= seconds(shown[-1]) <= end
    assert shown[0] == shown[1]
    part(live, "wider").click()
    assert stretch(live)[1] - stretch(live)[0] == pytest.approx(2 * (end - start), abs=3)
    part(live, "closer").click()
    assert stretch(live)[1] - stretch(live)[0] == pytest.approx(end - start, abs=3)


def test_a_small_click_is_no_stretch(live):
    before = stretch(live)
    point(live, "altitude", 0.5, 0.5)
    live.page.mouse.down()
    live.page.mouse.up()
    assert stretch(live) == before


def test_control_and_wheel_zoom_about_the_pointer_and_a_double_click_shows_the_whole_flight(live):
    whole = stretch(live)
    point(live, "altitude", 0.7, 0.5)
    moment = seconds(told(live).time)
    live.page.mouse.wheel(0, 0)  # without the key the page scrolls
    assert stretch(live) == whole
    part(live, "altitude").dispatch_event("wheel", {"deltaY": -100, "ctrlKey": True, **middle_of(live, 0.7)})
    start, end = stretch(live)
    assert end - start == pytest.approx((whole[1] - whole[0]) / 1.3, abs=3)
    point(live, "altitude", 0.7, 0.5)
    assert seconds(told(live).time) == pytest.approx(moment, abs=5)
    box = part(live, "track").bounding_box()
    live.page.mouse.dblclick(box["x"] + 50, box["y"] + 50)
    assert stretch(live) == whole


def middle_of(live: Locator, across: float) -> dict[str, float]:
    box = part(live, "altitude").bounding_box()
    return {"clientX": box["x"] + across * box["width"], "clientY": box["y"] + box["height"] / 2}


def test_the_slider_moves_the_pointer_and_is_heard(live):
    slider = part(live, "slider")
    point(live, "altitude", 0.2, 0.5)
    before = told(live)
    slider.focus()
    for _ in range(3):
        live.page.keyboard.press("PageUp")
    after = told(live)
    assert seconds(after.time) > seconds(before.time)
    assert slider.get_attribute("aria-valuetext").startswith(f"{after.time}, {after.altitude}")


def test_it_plays_and_pauses(live):
    button = part(live, "play")
    before = told(live).time
    x = dot(live, "climb")[0]
    button.click()
    assert button.inner_text() == "Pause"
    live.page.wait_for_function(
        "(old) => document.querySelector('[data-part=time]').textContent !== old", arg=before
    )
    live.page.wait_for_timeout(200)
    button.click()
    assert button.inner_text() == "Play"
    stands = told(live).time
    assert seconds(stands) > seconds(before)
    assert dot(live, "climb")[0] > x
    live.page.wait_for_timeout(120)
    assert told(live).time == stands


def test_frames_keep_up_with_the_pointer(live):
    live.evaluate(
        """(live) => {
          const frames = (live.frames = []);
          const count = (now) => { frames.push(now); requestAnimationFrame(count); };
          requestAnimationFrame(count);
        }"""
    )
    box = part(live, "altitude").bounding_box()
    spent = thread_clock(live.page)
    start, before, moves = time.perf_counter(), spent(), 0
    while (passed := time.perf_counter() - start) < 1.5:
        if moves < passed * 2 * MOVES_A_SECOND:
            live.page.mouse.move(box["x"] + 90 + moves * 7 % (box["width"] - 100), box["y"] + 60)
            moves += 1
    frames = live.evaluate("(live) => live.frames.length") / passed
    each = (spent() - before) / moves
    print(f"\n{moves / passed:.0f} moves, {frames:.0f} frames a second, {1000 * each:.1f} ms of processor a move")
    assert frames > FEWEST_FRAMES
    assert each < MOST_A_MOVE_S


def test_dark_and_light_change_on_an_open_page(live):
    light = part(live, "altitude").screenshot()
    live.page.emulate_media(color_scheme="dark")
    live.page.wait_for_timeout(300)
    settle(live)
    assert part(live, "altitude").screenshot() != light
    live.page.emulate_media(color_scheme="light")
    live.page.wait_for_timeout(300)


def test_on_a_phone_the_plots_stand_below_each_other(browser, path):
    context = browser.new_context(
        viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True, offline=True
    )
    page = context.new_page()
    page.goto(path.as_uri())
    live = ready(page)
    boxes = [part(live, plot).bounding_box() for plot in ("track", "altitude", "climb")]
    assert all(box["x"] >= 0 and box["x"] + box["width"] <= 360 for box in boxes)
    assert boxes[0]["y"] + boxes[0]["height"] <= boxes[1]["y"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    part(live, "altitude").scroll_into_view_if_needed()
    before, box = told(live).time, part(live, "altitude").bounding_box()
    page.touchscreen.tap(box["x"] + 0.7 * box["width"], box["y"] + 40)
    assert told(live).time != before
    context.close()
