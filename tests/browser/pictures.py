"""The pictures of the README, taken from real pages in a real browser: `python -m tests.browser.pictures`.

They show the sample tracks, whose pilots, places and weather are invented.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from flightlog import debrief, read_places, read_track
from flightlog.writers.files import write_html
from tests.browser.live_readers import part, point, ready, settle

ROOT = Path(__file__).resolve().parents[2]
SAMPLES, REPORTS = ROOT / "sample_tracks", ROOT / "reports"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or "/usr/bin/chromium"
LARGEST_BYTES = 150_000
WIDTH, COLOURS = 1040, 200


def take_pictures(folder: Path) -> list[Path]:
    """All pictures, into that folder."""
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        options = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        browser = play.chromium.launch(executable_path=CHROMIUM, args=options)
        pages = {name: _page_of(name, Path(scratch)) for name in ("cross-country", "top-landing-day")}
        taken = [
            _taken(browser, pages["cross-country"], folder / "page.png", _whole_flight, "light"),
            _taken(browser, pages["top-landing-day"], folder / "page-pass.png", _one_pass, "dark"),
        ]
        browser.close()
    for path in taken:
        if path.stat().st_size > LARGEST_BYTES:
            raise SystemExit(f"{path} has {path.stat().st_size} bytes, more than {LARGEST_BYTES}")
    return taken


def _page_of(name: str, folder: Path) -> Path:
    """The page of a sample."""
    places = read_places(SAMPLES / "places.geojson")
    return write_html(debrief(read_track(SAMPLES / f"{name}.igc"), places=places), folder / f"{name}.html")


def _taken(browser: Browser, path: Path, target: Path, act: Callable[[Page], None], scheme: str) -> Path:
    """A picture of the live charts after something was done in them."""
    context = browser.new_context(viewport={"width": WIDTH, "height": 800}, color_scheme=scheme, offline=True)
    page = context.new_page()
    page.goto(path.as_uri())
    act(page)
    page.wait_for_timeout(300)
    target.parent.mkdir(parents=True, exist_ok=True)
    picture = Image.open(BytesIO(page.locator(".live").first.screenshot()))
    picture.convert("RGB").quantize(COLOURS, Image.Quantize.MAXCOVERAGE).save(target, optimize=True)
    context.close()
    return target


def _whole_flight(page: Page) -> None:
    """The pointer in the best climb."""
    live = ready(page)
    point(live, "altitude", 0.86, 0.6)
    settle(live)


def _one_pass(page: Page) -> None:
    """The second pass alone, the pointer where it was lowest."""
    live = ready(page)
    page.get_by_role("button", name="Pass 2, show in the charts").first.click()
    settle(live)
    part(live, "altitude").scroll_into_view_if_needed()
    point(live, "altitude", 0.9, 0.6)
    settle(live)


if __name__ == "__main__":
    sys.stdout.writelines(f"{path} {path.stat().st_size}\n" for path in take_pictures(REPORTS))
