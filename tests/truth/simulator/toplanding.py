"""A day at one hill: soaring, decoys, passes broken off, top landings, relaunches, down to the valley."""

from __future__ import annotations

import math

from .craft import Craft
from .landing import Approach, fly_back_into_lift
from .navigation import wrapped
from .onfoot import stand, walk
from .scenario import Scenario
from .soaring import beat, fly_to
from .starting import after, land_in_field, prepare_and_launch, sunk_out


def top_landing_day(craft: Craft, scenario: Scenario) -> None:
    """Several flights: soar, decoys, passes broken off, top landings, relaunches, down to the valley."""
    rng, hill = craft.rng, craft.world.hill
    stand(craft, rng.uniform(30, 240))
    for number, go_arounds in enumerate(scenario.go_arounds):
        prepare_and_launch(craft, scenario.aborted_runs if number == 0 else 0)
        soar_for(craft, rng.uniform(0.12, 0.3) * scenario.flight_minutes * 60)
        todo = (
            ["go_around"] * go_arounds + ["low_pass"] * scenario.low_passes + ["edge_beats"] * scenario.edge_beats
        )
        rng.shuffle(todo)
        landed = False
        for what in todo:
            if landed or sunk_out(craft):
                break
            landed = _one_act(craft, scenario, what)
            if not landed and rng.random() < 0.5:
                soar_for(craft, rng.uniform(30, 200))
        landed = landed or (not sunk_out(craft) and land_on_top(craft, scenario))
        if not landed:
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


def soar_for(craft: Craft, seconds: float, above_m: float | None = None) -> None:
    """Beats in the slope lift at some height above the edge."""
    hill, enough = craft.world.hill, after(craft, seconds)
    target = hill.crest_m + (craft.rng.uniform(15, 90) if above_m is None else above_m)
    beat(craft, lambda c: enough(c) or sunk_out(c), target)


def _one_act(craft: Craft, scenario: Scenario, what: str) -> bool:
    if what == "go_around":
        return broken_off_pass(craft, scenario) == "landed"
    if what == "low_pass":
        return low_pass(craft)
    edge_beats(craft)
    return False


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
    rng, pad = craft.rng, craft.world.hill.pad
    low, high = scenario.break_off_m
    for _ in range(3):
        approach = Approach(
            craft, pad, rng.choice(scenario.patterns), low + (high - low) * rng.random() ** 1.5, True
        )
        if get_ready(craft, approach):
            return "landed" if approach.fly() == "landed" else recover(craft)
        if sunk_out(craft):
            break
    return "flying"


def recover(craft: Craft) -> str:
    """Climb back to a safe height in the slope lift."""
    if fly_back_into_lift(craft) == "landed":
        return "landed"
    limit, high = after(craft, 300), craft.world.hill.crest_m + craft.rng.uniform(15, 45)
    beat(craft, lambda c: c.z > high or limit(c) or sunk_out(c), high + 5, behaviour="climb_back")
    return "flying"


def land_on_top(craft: Craft, scenario: Scenario) -> bool:
    """Passes at the meadow until one succeeds; after five the pilot goes down to the valley."""
    for _ in range(5):
        approach = Approach(craft, craft.world.hill.pad, craft.rng.choice(scenario.patterns), None, True)
        if sunk_out(craft):
            return False
        if get_ready(craft, approach) and (approach.fly() == "landed" or recover(craft) == "landed"):
            return True
    return False


def low_pass(craft: Craft) -> bool:
    """A decoy: down in front of the edge, then low along it past the meadow; True if it ended on the ground."""
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
    craft.event("decoy", what="low_pass")
    craft.phase("climb", "ridge", "low_pass")
    along, _ = hill.frame(craft.x, craft.y)
    way = 1 if along < pad_along else -1
    for share, out in ((-0.4, rng.uniform(-8, 14)), (1.2, rng.uniform(-10, 14))):
        speed = craft.wing.trim_mps * rng.uniform(1.0, 1.1)
        spot = hill.point(pad_along + way * share * 110, out)
        fly_to(craft, *spot, 28, speed, until=lambda c: c.height < 2.5, longest_s=60)
    craft.event("decoy_end", what="low_pass")
    return fly_back_into_lift(craft) == "landed"


def edge_beats(craft: Craft) -> None:
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
