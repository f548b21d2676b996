"""From standing at the launch to flying, fields to land in, and the small judgements pilots share."""

from __future__ import annotations

import math
from collections.abc import Callable
from contextlib import suppress

from .craft import Craft, GroundContactError
from .landing import Approach
from .navigation import distance_to
from .onfoot import aborted_run, launch, stand, walk
from .scenario import Scenario
from .soaring import fly_to, glide
from .terrain import Ground


def prepare_and_launch(craft: Craft, runs: int = 0) -> None:
    """From standing at the launch to flying."""
    rng, launch_place = craft.rng, craft.world.hill.launch
    if distance_to(craft, launch_place.x_m, launch_place.y_m) > 6:
        walk(craft, launch_place.x_m + rng.gauss(0, 2), launch_place.y_m + rng.gauss(0, 2))
    stand(craft, rng.uniform(15, 90), handling=True)
    for _ in range(runs):
        aborted_run(craft)
        stand(craft, rng.uniform(20, 120), handling=rng.random() < 0.5)
    stand(craft, rng.uniform(5, 25))
    launch(craft)


def after(craft: Craft, seconds: float) -> Callable[[Craft], bool]:
    """True once so many seconds have passed."""
    end = craft.t + seconds
    return lambda c: c.t >= end


def clearance(craft: Craft) -> float:
    """Height the pilot has to play with: above the valley floor in front of the hill, else above the ground."""
    hill = craft.world.hill
    along, out = hill.frame(craft.x, craft.y)
    if -300 < out < hill.face_m + 200 and abs(along) < hill.half_length_m + 300:
        return craft.z - hill.valley_m
    return craft.height


def sunk_out(craft: Craft) -> bool:
    """Too low in front of the hill to get back up."""
    hill = craft.world.hill
    _, out = hill.frame(craft.x, craft.y)
    return out > 0 and craft.z < hill.crest_m - 0.45 * hill.relief_m


def without_mishap(craft: Craft, act: Callable[[], bool], tries: int = 8) -> bool:
    """Do something as a pilot with judgement would: what went wrong is taken back and done anew.

    The act says whether it came off. A simulated pilot steers by simple rules and at times flies into the hill or
    far past the meadow, as no pilot would; such tries are struck out of the day. False when all went wrong.
    """
    for _ in range(tries):
        before = craft.checkpoint()
        with suppress(GroundContactError):
            if act() and not sunk_out(craft):
                return True
        craft.rewind(before)
    return False


def land_in_field(craft: Craft, scenario: Scenario, place: Ground | None = None) -> None:
    """Choose a field (or take the one given), lose the height left, land there."""
    rng, hill = craft.rng, craft.world.hill
    along, out = hill.frame(craft.x, craft.y)
    if place is None and out > -300 and abs(along) < hill.half_length_m + 300 and out < 2500:
        place = hill.field
    if place is None:
        wind = craft.world.mean_wind(craft.t, craft.z)
        ahead = max(120.0, min(craft.height * 3.0, 3000.0))
        heading = math.atan2(wind[0], wind[1]) + rng.gauss(0, 0.5) if math.hypot(*wind) > 2 else craft.psi
        x, y = craft.x + ahead * math.sin(heading), craft.y + ahead * math.cos(heading)
        place = Ground("field", x, y, craft.world.hill.height(x, y), 120.0, ("landing",))
    above = lambda c: c.z - place.elevation_m  # noqa: E731
    if distance_to(craft, place.x_m, place.y_m) > 250:
        there = lambda c: clearance(c) < 45 or distance_to(c, place.x_m, place.y_m) < 180  # noqa: E731
        glide(craft, place.x_m, place.y_m, craft.wing.trim_mps, there, "final_glide")
    if above(craft) > 130:
        lose_height(craft, place, rng.uniform(75, 110))
    pattern = rng.choice(scenario.patterns)
    approach = Approach(craft, place, pattern, None, on_top=False)
    while approach.fly() != "landed":
        approach = Approach(craft, place, "straight_in", None, on_top=False)


def lose_height(craft: Craft, place: Ground, height_m: float) -> None:
    """Upwind of the field in wide turns, until the height fits an approach."""
    craft.phase("search", None, "losing_height")
    rng = craft.rng
    side = rng.choice((-1, 1))
    low = place.elevation_m + height_m
    while craft.z > low:
        wind = craft.world.mean_wind(craft.t, craft.z)
        upwind = math.atan2(-wind[0], -wind[1])
        side = -side
        aside = upwind + side * math.pi / 2
        x = place.x_m + 140 * math.sin(aside) + 40 * math.sin(upwind)
        y = place.y_m + 140 * math.cos(aside) + 40 * math.cos(upwind)
        fly_to(craft, x, y, 40, craft.wing.trim_mps * 1.1, 1.25, lambda c: c.z <= low, longest_s=60)
