"""Map tiles below a track: only where asked for, from one address, where they belong, and not needed."""

from __future__ import annotations

import base64
import os
import re
import shutil
import threading
from collections.abc import Iterator
from dataclasses import replace
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from click.testing import CliRunner
from playwright.sync_api import Browser, sync_playwright

from flightlog.commands.main import main
from flightlog.earth.web_mercator import web_mercator
from flightlog.writers.basemaps import basemap_at
from flightlog.writers.display import Display
from flightlog.writers.files import write_html
from tests.browser.live_readers import dot, part, ready, settle, told
from tests.unit.made_debrief import HOSTILE, made_debrief

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
PICTURE = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)


@pytest.fixture
def server() -> Iterator[tuple[str, list[str]]]:
    """Tiles on this computer, and what was asked of them."""
    asked: list[str] = []

    class Tiles(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(200)
            self.send_header("Content-Type", "image/png")
            self.end_headers()
            self.wfile.write(PICTURE)

        def log_message(self, *_: object) -> None:
            pass

    http = ThreadingHTTPServer(("127.0.0.1", 0), Tiles)
    threading.Thread(target=http.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{http.server_port}", asked
    http.shutdown()
    http.server_close()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with sync_playwright() as play:
        options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = play.chromium.launch(executable_path=CHROMIUM, args=options)
        yield browser
        browser.close()


def page_with_tiles(path: Path, host: str, credit: str = "invented tiles") -> Path:
    show = Display(basemap=basemap_at(f"{host}/{{z}}/{{x}}/{{y}}.png", credit))
    return write_html(made_debrief(), path, display=show)


def test_tiles_come_from_the_one_address_and_lie_where_they_belong(browser, server, tmp_path):
    host, asked = server
    path = page_with_tiles(tmp_path / "page.html", host, f"tiles of {HOSTILE}")
    page = browser.new_page(viewport={"width": 1200, "height": 900})
    requests: list[str] = []
    said: list[str] = []
    page.on("request", lambda one: requests.append(one.url))
    page.on("console", lambda one: said.append(one.text))
    page.on("pageerror", lambda one: said.append(str(one)))
    page.goto(path.as_uri())
    live = ready(page)
    page.wait_for_function("[...document.querySelectorAll('.tiles img')].every((one) => one.complete)")
    assert {url.rpartition("/")[0].split("/")[2] for url in requests[1:]} == {host.removeprefix("http://")}
    assert asked
    assert all(re.fullmatch(r"/\d+/\d+/\d+\.png", one) for one in asked)
    assert said == []
    assert "<script>alert('x')</script>" in live.locator(".credit").inner_text()

    made = made_debrief()
    at = made.spans[0].first
    lat, lon = made.motion.plane.to_degrees(made.motion.east_m[at], made.motion.north_m[at])
    x, y = web_mercator(lat, lon)
    zoom = int(asked[0].split("/")[1])
    name = f"{zoom}/{int(x * 2**zoom)}/{int(y * 2**zoom)}"
    box = live.locator(f'.tiles img[data-tile="{name}"]').bounding_box()
    across, down = float(x) * 2**zoom % 1.0, float(y) * 2**zoom % 1.0
    place = box["x"] + across * box["width"], box["y"] + down * box["height"]
    assert dot(live, "track") == pytest.approx(place, abs=2.5)
    page.close()


def test_without_tiles_from_there_the_page_is_as_usable(browser, tmp_path):
    path = page_with_tiles(tmp_path / "page.html", "https://tiles.invalid")
    context = browser.new_context(viewport={"width": 1200, "height": 900}, offline=True)
    page = context.new_page()
    errors: list[str] = []
    page.on("pageerror", lambda one: errors.append(str(one)))
    page.goto(path.as_uri())
    live = ready(page)
    before = told(live).time
    page.get_by_role("button", name="Climb 1, show in the charts").click()
    settle(live)
    part(live, "play").click()
    page.wait_for_function("(old) => document.querySelector('[data-part=time]').textContent !== old", arg=before)
    assert errors == []
    assert live.locator(".tiles img:visible").count() == 0
    context.close()


def test_the_policy_allows_no_picture_where_none_was_asked_for(tmp_path):
    plain = write_html(made_debrief(), tmp_path / "plain.html").read_text(encoding="utf-8")
    assert "img-src data:;" in plain
    assert 'data-part="tiles"' not in plain
    asked = page_with_tiles(tmp_path / "page.html", "https://tiles.example:8443").read_text(encoding="utf-8")
    assert "img-src data: https://tiles.example:8443;" in asked
    assert asked.count("https://tiles.example:8443") == 2  # the policy, and the address in the data


@pytest.mark.parametrize(
    ("template", "credit", "found"),
    [
        ("https://tiles.example/{z}/{x}/{y}.png", "", "add --basemap-credit"),
        ("https://tiles.example/{z}/{x}.png", "x", "is no address of tiles"),
        ("https://tiles.example/{z}/{x}/{y}/{s}.png", "x", "is no address of tiles"),
        ("https://a.example; script-src *//{z}/{x}/{y}", "x", "is no address of tiles"),
        ("javascript:alert(1)/{z}/{x}/{y}", "x", "is no address of tiles"),
        ("", "x", "add --basemap URL"),
    ],
)
def test_odd_addresses_are_told(template, credit, found):
    words = ["debrief", "nothing.igc", "--basemap-credit", credit]
    result = CliRunner().invoke(main, [*words, "--basemap", template] if template else words)
    assert result.exit_code == 2
    assert found in result.output


def test_a_flight_beyond_the_square_map_has_no_tiles():
    from flightlog.earth.geodesy import LocalPlane
    from flightlog.writers.page import page_of

    made = made_debrief()
    polar = replace(made, motion=replace(made.motion, plane=LocalPlane(88.0, 10.0)))
    show = Display(basemap=basemap_at("https://tiles.example/{z}/{x}/{y}.png", "x"))
    assert page_of(polar, show).flights[0].live.tiles is None
