"""What a reader sees and does in the live charts of a page, for tests and pictures."""

from __future__ import annotations

from dataclasses import dataclass

from playwright.sync_api import Locator, Page

READY_MS = 20_000


def ready(page: Page, number: int = 1) -> Locator:
    """The live charts of a flight, once they can be used."""
    live = page.locator(".live").nth(number - 1)
    page.locator("section.flight").nth(number - 1).scroll_into_view_if_needed()
    page.wait_for_selector(f'.live[data-fixes="flight-{number}-fixes"][data-state=ready]', timeout=READY_MS)
    live.scroll_into_view_if_needed()
    return live


@dataclass(frozen=True)
class Told:
    """The figures above the plots."""

    time: str
    altitude: str
    climb: str
    speed: str
    phase: str


def part(live: Locator, name: str) -> Locator:
    return live.locator(f'[data-part="{name}"]')


def told(live: Locator) -> Told:
    settle(live)
    names = ("time", "told-altitude", "told-climb", "told-speed", "phase")
    return Told(*(part(live, name).inner_text() for name in names))


def settle(live: Locator) -> None:
    """Wait until what was asked for is on the screen."""
    live.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def dot(live: Locator, plot: str) -> tuple[float, float]:
    """The middle of the pointer's dot, in pixels of the window."""
    settle(live)
    box = part(live, plot).locator(".dot").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def point(live: Locator, plot: str, across: float, down: float) -> None:
    """Move the mouse to a place in a plot, given as shares of its width and height."""
    box = part(live, plot).bounding_box()
    assert box is not None
    live.page.mouse.move(box["x"] + across * box["width"], box["y"] + down * box["height"])


def seconds(clock: str) -> int:
    hours, minutes, rest = clock.split(":")
    return 3600 * int(hours) + 60 * int(minutes) + int(rest)


def stretch(live: Locator) -> tuple[int, int]:
    """From when to when is shown, in seconds of the day."""
    settle(live)
    start, _, end = part(live, "stretch").inner_text().partition(" to ")
    return seconds(start), seconds(end)
