"""A day at one hill: soaring, decoys, passes broken off, top landings, relaunches, down to the valley."""

from __future__ import annotations

import math
from collections.abc import Callable

from .craft import Craft
from .landing import FARTHEST_BREAK_OFF_M, Approach, fly_back_into_lift
from .navigation import distance_to, wrapped
from .onfoot import stand, walk
from .scenario import Scenario
from .soaring import beat, fly_to
from .starting import after, land_in_field, prepare_and_launch, sunk_out, without_mishap
from .terrain import CARRY_HEIGHT_M
from .truth import HIGHEST_BREAK_OFF_M

DEEPEST_SAG_M = 7.0  # what a wing still loses, at most, after its pilot has broken a pass off


def top_landing_day(craft: Craft, scenario: Scenario) -> None:
    """Several flights: soar, decoys, passes broken off, top landings, relaunches, down to the valley."""
    rng, hill = craft.rng, craft.world.hill
    stand(craft, rng.uniform(30, 240))
    share = 0.6 / max(1, len(scenario.go_arounds))
    for number, go_arounds in enumerate(scenario.go_arounds):
        prepare_and_launch(craft, scenario.aborted_runs if number == 0 else 0)
        soar_for(craft, share * rng.uniform(0.6, 1.2) * scenario.flight_minutes * 60)
        if not _passes_and_landing(craft, scenario, go_arounds):
            land_in_field(craft, scenario, hill.field)
            return
        stand(craft, rng.uniform(3, 20))
        if number + 1 < len(scenario.go_arounds) or scenario.ends_in_valley:
            walk(craft, hill.pad.x_m + rng.gauss(0, 8), hill.pad.y_m + rng.gauss(0, 8))
            stand(craft, rng.uniform(*scenario.wait_s), handling=rng.random() < 0.3)
    if scenario.ends_in_valley:
        prepare_and_launch(craft)
        soar_for(craft, rng.uniform(0.1, 0.3) * scenario.flight_minutes * 60)
        land_in_field(craft, scenario, hill.field)


def _passes_and_landing(craft: Craft, scenario: Scenario, go_arounds: int) -> bool:
    """Planned go-arounds and decoys in any order, then a landing on top; False when it did not come to that."""
    acts: dict[str, Callable[[], bool]] = {
        "go_around": lambda: broken_off_pass(craft, scenario) == "go_around",
        "low_pass": lambda: low_pass(craft),
        "edge_beats": lambda: edge_beats(craft),
    }
    todo = ["go_around"] * go_arounds + ["low_pass"] * scenario.low_passes + ["edge_beats"] * scenario.edge_beats
    craft.rng.shuffle(todo)
    for what in todo:
        without_mishap(craft, acts[what])
        if craft.rng.random() < 0.5:
            soar_for(craft, craft.rng.uniform(30, 200))
        if sunk_out(craft):
            return False
    spare = [6 - go_arounds]  # more are not flown before one landing
    return any(without_mishap(craft, lambda: land_on_top(craft, scenario, spare)) for _ in range(2))


def soar_for(craft: Craft, seconds: float) -> None:
    """Beats in the slope lift at some height above the edge."""
    rng, hill = craft.rng, craft.world.hill

    def soar() -> bool:
        enough, target = after(craft, seconds), hill.crest_m + rng.uniform(15, 90)
        beat(craft, lambda c: enough(c) or sunk_out(c), target)
        return True

    without_mishap(craft, soar, tries=4)


def get_ready(craft: Craft, approach: Approach) -> bool:
    """Soar until height and place suit the approach to come; False when that does not happen."""
    hill, rng = craft.world.hill, craft.rng
    pad_along, _ = hill.frame(hill.pad.x_m, hill.pad.y_m)
    target = hill.crest_m + approach.needed_height_m + rng.uniform(0, 8)
    limit = after(craft, 300)
    begin = rng.uniform(50, 110) * (1.0 if craft.wing.wing_class == "paraglider" else 1.4)

    def fits(c: Craft) -> bool:
        along, _ = hill.frame(c.x, c.y)
        closing = wrapped(math.atan2(hill.pad.x_m - c.x, hill.pad.y_m - c.y) - c.psi)
        return target - 5 < c.z < target + 30 and abs(along - pad_along) < begin + 60 and abs(closing) < 1.4

    beat(craft, lambda c: fits(c) or sunk_out(c) or limit(c), target + 5, centre_m=pad_along, reach_m=begin + 100)
    return fits(craft)


def broken_off_pass(craft: Craft, scenario: Scenario) -> str:
    """An approach that the pilot gives up at a height drawn beforehand; then back into the lift."""
    low, high = scenario.break_off_m
    return one_pass(craft, scenario, low + (high - low) * craft.rng.random() ** 1.5)


def one_pass(craft: Craft, scenario: Scenario, break_off_m: float | None) -> str:
    """One pass at the meadow: landed, go_around, given_up before it was one; empty when no pilot would fly so."""
    pad = craft.world.hill.pad
    approach = Approach(craft, pad, craft.rng.choice(scenario.patterns), break_off_m, True)
    if not get_ready(craft, approach):
        return ""
    begin = len(craft.rows)
    outcome = approach.fly()
    distance = distance_to(craft, pad.x_m, pad.y_m)
    if outcome == "landed":
        return "landed" if break_off_m is None and distance <= pad.radius_m else ""
    height = approach.height
    decided = len(craft.rows)
    if approach.why == "time" or recover(craft) == "landed" or _brushed_the_ground(craft, begin):
        return ""
    if approach.height_of(min(row[3] for row in craft.rows[decided - 1 :])) < height - DEEPEST_SAG_M:
        return ""  # the pilot went on down for so long that nothing had been broken off
    if height > HIGHEST_BREAK_OFF_M or distance > FARTHEST_BREAK_OFF_M + 5:
        return "given_up" if craft.rng.random() < 0.3 else ""
    return "go_around"


def _brushed_the_ground(craft: Craft, begin: int) -> bool:
    """Whether the feet came closer to the ground than a pilot means them to, since a row of the states."""
    rows = craft.rows[begin::3]
    return min(z - CARRY_HEIGHT_M - craft.world.hill.height(x, y) for _, x, y, z, *_ in rows) < 0.8


def recover(craft: Craft) -> str:
    """Climb back to a safe height in the slope lift."""
    if fly_back_into_lift(craft) == "landed":
        return "landed"
    limit, high = after(craft, 300), craft.world.hill.crest_m + craft.rng.uniform(15, 45)
    beat(craft, lambda c: c.z > high or limit(c) or sunk_out(c), high + 5, behaviour="climb_back")
    return "flying"


def land_on_top(craft: Craft, scenario: Scenario, spare: list[int]) -> bool:
    """Passes at the meadow until one succeeds, with as many go-arounds on the way as are to spare."""
    for _ in range(3):
        before = craft.checkpoint()
        outcome = one_pass(craft, scenario, None)
        if outcome == "landed":
            return True
        if outcome == "go_around" and spare[0] > 0 and not sunk_out(craft) and craft.rng.random() < 0.5:
            spare[0] -= 1
        else:
            craft.rewind(before)
    return False


def low_pass(craft: Craft) -> bool:
    """A decoy: down in front of the edge, then low along it past the meadow; False if it ended on the ground."""
    hill, rng = craft.world.hill, craft.rng
    pad_along, _ = hill.frame(hill.pad.x_m, hill.pad.y_m)
    low = hill.crest_m + rng.uniform(4, 22)
    limit = after(craft, 200)

    def down(c: Craft) -> bool:
        along, _ = hill.frame(c.x, c.y)
        return (c.z < low + 4 and 70 < abs(along - pad_along) < 220) or c.z < low - 12 or limit(c) or sunk_out(c)

    beat(craft, down, low, out_m=15, centre_m=pad_along, hurry=True)
    if sunk_out(craft):
        return False
    begin = len(craft.rows)
    craft.event("decoy", what="low_pass")
    craft.phase("climb", "ridge", "low_pass")
    along, _ = hill.frame(craft.x, craft.y)
    way = 1 if along < pad_along else -1
    for share, out in ((-0.4, rng.uniform(-8, 14)), (1.2, rng.uniform(-10, 14))):
        speed = craft.wing.trim_mps * rng.uniform(1.0, 1.1)
        spot = hill.point(pad_along + way * share * 110, out)
        fly_to(craft, *spot, 28, speed, until=lambda c: c.height < 2.5, longest_s=60)
    craft.event("decoy_end", what="low_pass")
    return fly_back_into_lift(craft) == "flying" and not _brushed_the_ground(craft, begin)


def edge_beats(craft: Craft) -> bool:
    """A decoy: short beats over the meadow side of the edge, with no thought of landing."""
    hill, rng = craft.world.hill, craft.rng
    pad_along, _ = hill.frame(hill.pad.x_m, hill.pad.y_m)
    high = hill.crest_m + rng.uniform(14, 40)
    limit, height = after(craft, 200), hill.crest_m + 8
    beat(craft, lambda c: c.z > high or limit(c) or sunk_out(c), high + 5)
    craft.event("decoy", what="edge_beats")
    done = after(craft, rng.uniform(50, 150))
    beat(craft, lambda c: done(c) or c.z < height, high, out_m=rng.uniform(-22, 6), reach_m=rng.uniform(60, 110),
         behaviour="edge_beats", centre_m=pad_along, keep_out=True)  # fmt: skip
    craft.event("decoy_end", what="edge_beats")
    return True
