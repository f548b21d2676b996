"""Whole days as a pilot flies them: cross-country, a day of top landings, glides for a polar."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

from .craft import Craft, EndOfDay
from .landing import Approach, fly_back_into_lift
from .navigation import bearing_to, distance_to, wrapped
from .onfoot import aborted_run, drive, launch, stand, walk
from .scenario import Scenario
from .soaring import beat, climb_thermal, fly_to, glide, search
from .terrain import Ground
from .world import Thermal


def prepare_and_launch(craft: Craft, scenario: Scenario, runs: int = 0) -> None:
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


# -- cross-country ----------------------------------------------------------------------------------------------
def fill_with_thermals(craft: Craft, extent_m: float, seconds: float) -> None:
    """Thermals all over the country, coming and going for the whole day."""
    rng, world = craft.rng, craft.world
    for _ in range(int((2 * extent_m / 1000) ** 2 / 2.6)):
        x, y = rng.uniform(-extent_m, extent_m), rng.uniform(-extent_m, extent_m)
        born = rng.uniform(-1200, 600)
        while born < seconds:
            thermal = world.make_thermal(x, y, born, rng)
            born += thermal.life_s + rng.uniform(0, 900)


def choose_thermal(craft: Craft, goal: tuple[float, float], used: set[int]) -> Thermal | None:
    """The most promising thermal within reach that lies more or less on the way."""
    best, best_score = None, -1e9
    height = craft.z - craft.world.hill.valley_m
    reach = min(4500.0, max(0.0, height - 130) * craft.wing.best_ratio * 0.6)
    to_goal = distance_to(craft, *goal)
    for thermal in craft.world.thermals:
        if id(thermal) in used:
            continue
        if abs(thermal.x_m - craft.x) > 6000 or abs(thermal.y_m - craft.y) > 6000:
            continue
        cx, cy = thermal.core(craft.t, craft.z)
        distance = math.hypot(cx - craft.x, cy - craft.y)
        tail = ((cx - craft.x) * craft.wx + (cy - craft.y) * craft.wy) / max(distance, 1.0)
        ground_speed = craft.wing.trim_mps + tail
        if ground_speed < 4 or not 30 < distance < reach * ground_speed / craft.wing.trim_mps:
            continue
        arrival = craft.t + distance / ground_speed
        strength = thermal.strength(arrival, max(craft.z - distance / craft.wing.best_ratio, thermal.base_m + 80))
        if strength < 0.6 * craft.world.air.thermal_mps and strength < 1.6:
            continue
        progress = to_goal - math.hypot(cx - goal[0], cy - goal[1])
        if height > 600 and progress < -200:
            continue
        score = progress - 0.5 * distance + 500 * strength + craft.rng.gauss(0, 300)
        if score > best_score:
            best, best_score = thermal, score
    return best


def clearance(craft: Craft) -> float:
    """Height the pilot has to play with: above the valley floor in front of the hill, above the ground elsewhere."""
    hill = craft.world.hill
    along, out = hill.frame(craft.x, craft.y)
    if -300 < out < hill.face_m + 200 and abs(along) < hill.half_length_m + 300:
        return craft.z - hill.valley_m
    return craft.height


def use_thermal(craft: Craft, scenario: Scenario, thermal: Thermal, speed: float) -> bool:
    """Glide to where a thermal should be and work it if it is there."""
    rng = craft.rng
    ex, ey = rng.gauss(0, 35), rng.gauss(0, 35)

    def found(c: Craft) -> bool:
        cx, cy = thermal.core(c.t, c.z)
        return math.hypot(cx - c.x, cy - c.y) < 0.9 * thermal.radius_m and c.vario > 0.2

    end = craft.t + 700
    while craft.t < end and clearance(craft) > 60:
        away = distance_to(craft, *thermal.core(craft.t, craft.z)) / speed
        sunk = craft.z - 0.5 * away * craft.wing.sink_mps(speed)
        cx, cy = thermal.core(craft.t + min(away, 240.0), sunk)  # where it will be on arrival
        if math.hypot(cx + ex - craft.x, cy + ey - craft.y) < 60 or found(craft):
            break
        glide(craft, cx + ex, cy + ey, speed, lambda c, e=after(craft, 30): found(c) or clearance(c) < 60 or e(c))
    if not found(craft):
        search(craft, rng.uniform(25, 60), lambda c: found(c) or clearance(c) < 60)
    if not found(craft) or clearance(craft) < 50:
        return False
    top = thermal.base_m + rng.uniform(0.75, 0.98) * (thermal.top_m - thermal.base_m)
    least = rng.uniform(0.3, 0.8)
    climb_thermal(craft, thermal, top, least, scenario.centring_error_m)
    return True


def cross_country(craft: Craft, scenario: Scenario) -> None:
    """Launch, soar, then from thermal to thermal along legs of a few kilometres; land in a field."""
    rng, hill = craft.rng, craft.world.hill
    stand(craft, rng.uniform(30, 200))
    prepare_and_launch(craft, scenario, scenario.aborted_runs)
    end = craft.t + scenario.flight_minutes * 60
    if (
        craft.world.slope_rise(*hill.point(0, 28), hill.crest_m + 15, craft.world.mean_wind(craft.t, hill.crest_m))
        > 1.4
    ):
        enough = after(craft, rng.uniform(120, 480))
        beat(craft, lambda c: enough(c) or c.z < hill.crest_m - 120, hill.crest_m + rng.uniform(50, 120))
    course = rng.uniform(0, 2 * math.pi) if scenario.wind_mps < 3 else (
        math.radians(scenario.wind_from_deg or hill.faces_deg) + math.pi + rng.gauss(0, 0.9)
    )  # fmt: skip
    main_course = course
    used: set[int] = set()
    leave_hill(craft, scenario)
    goal = _next_goal(craft, course)
    while craft.t < end:
        if distance_to(craft, *goal) < 700 or abs(wrapped(bearing_to(craft, *goal) - course)) > 1.2:
            course = main_course + rng.gauss(0, 0.8) if scenario.wind_mps > 3 else course + rng.gauss(0, 0.9)
            goal = _next_goal(craft, course)
        one_leg(craft, scenario, goal, used)
        if clearance(craft) < 140 and not low_save(craft, scenario, used):
            break
    land_in_field(craft, scenario)


def leave_hill(craft: Craft, scenario: Scenario) -> None:
    """Wait in the slope lift for a thermal that comes through, and climb away in it."""
    hill, wind = craft.world.hill, craft.world.mean_wind(craft.t, craft.z)
    soarable = craft.world.slope_rise(*hill.point(0, 28), hill.crest_m + 15, wind) > 1.3
    for _ in range(6):
        thermal = _house_thermal(craft)
        begin, entry = craft.z, thermal.base_m + 0.85 * (thermal.top_m - thermal.base_m)

        def found(c: Craft, thermal: Thermal = thermal) -> bool:
            cx, cy = thermal.core(c.t, c.z)
            return math.hypot(cx - c.x, cy - c.y) < 0.8 * thermal.radius_m and c.vario > 0.1

        limit = after(craft, 25)
        while not found(craft) and not limit(craft) and hill.frame(craft.x, craft.y)[1] > -60:
            glide(
                craft,
                *thermal.core(craft.t, craft.z),
                craft.wing.trim_mps,
                lambda c, e=after(craft, 5), f=found: f(c) or e(c),
            )
            craft.step(0.0, craft.wing.trim_mps)
        if found(craft):
            climb_thermal(craft, thermal, entry, craft.rng.uniform(0.4, 0.8), scenario.centring_error_m)
        if craft.z > begin + 250 or clearance(craft) < 120:
            return
        if soarable and craft.z < hill.crest_m + 150:
            fly_back_into_lift(craft)
            done = after(craft, craft.rng.uniform(40, 150))
            beat(craft, lambda c, d=done: d(c) or sunk_out(c), hill.crest_m + craft.rng.uniform(40, 100))


def _next_goal(craft: Craft, course: float) -> tuple[float, float]:
    distance = craft.rng.uniform(4000, 9000)
    return craft.x + distance * math.sin(course), craft.y + distance * math.cos(course)


def _thermal_through(craft: Craft, x: float, y: float, base_m: float, share: float) -> Thermal:
    """A thermal whose column stands over this spot now, at the pilot's height."""
    thermals = craft.world.thermals
    thermal = replace(craft.world.make_thermal(x, y, craft.t - 250, craft.rng, share), base_m=base_m)
    cx, cy = thermal.core(craft.t, craft.z)
    thermals[-1] = replace(thermal, x_m=2 * x - cx, y_m=2 * y - cy)
    return thermals[-1]


def _house_thermal(craft: Craft) -> Thermal:
    """A thermal close by in front of the hill, as pilots wait for before they leave."""
    rng, hill = craft.rng, craft.world.hill
    along, out = hill.frame(craft.x, craft.y)
    spot = hill.point(along + rng.uniform(-80, 80), max(out, 20) + rng.uniform(30, 120))
    return _thermal_through(craft, *spot, hill.valley_m, rng.uniform(1.1, 1.6))


def one_leg(craft: Craft, scenario: Scenario, goal: tuple[float, float], used: set[int]) -> None:
    """To the next thermal and up it, or on towards the goal when none is in reach."""
    rng = craft.rng
    speed = craft.wing.trim_mps * rng.uniform(*scenario.glide_speed_share)
    speed = max(craft.wing.trim_mps, min(craft.wing.top_mps, speed))
    thermal = choose_thermal(craft, goal, used)
    if thermal is not None:
        used.add(id(thermal))
        use_thermal(craft, scenario, thermal, speed)
        return
    low = clearance(craft) < 300
    glide(
        craft,
        *goal,
        craft.wing.trim_mps if low else speed,
        lambda c, e=after(craft, 90): e(c) or clearance(c) < 130,
    )


def low_save(craft: Craft, scenario: Scenario, used: set[int]) -> bool:
    """Low over the fields: search, and with some luck find something to climb out in."""
    rng = craft.rng
    for _ in range(3):
        if clearance(craft) < 75:
            return False
        if rng.random() < 0.15:
            search(craft, rng.uniform(15, 50), lambda c: clearance(c) < 60)
            continue
        search(craft, rng.uniform(8, 40), lambda c: clearance(c) < 65)
        heading = craft.psi + rng.uniform(-1, 1)
        x, y = craft.x + 110 * math.sin(heading), craft.y + 110 * math.cos(heading)
        thermal = _thermal_through(craft, x, y, craft.world.hill.height(x, y), rng.uniform(0.9, 1.3))
        used.add(id(thermal))
        if use_thermal(craft, scenario, thermal, craft.wing.trim_mps) and clearance(craft) > 250:
            return True
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
        glide(craft, place.x_m, place.y_m, craft.wing.trim_mps,
              lambda c: clearance(c) < 45 or distance_to(c, place.x_m, place.y_m) < 180, "final_glide")  # fmt: skip
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


# -- top landings -----------------------------------------------------------------------------------------------
def top_landing_day(craft: Craft, scenario: Scenario) -> None:
    """Several flights from one hill: soar, decoys, passes broken off, top landings, relaunches, down to the valley."""
    rng, hill = craft.rng, craft.world.hill
    stand(craft, rng.uniform(30, 240))
    for number, go_arounds in enumerate(scenario.go_arounds):
        prepare_and_launch(craft, scenario, scenario.aborted_runs if number == 0 else 0)
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
        prepare_and_launch(craft, scenario)
        soar_for(craft, rng.uniform(0.1, 0.3) * scenario.flight_minutes * 60)
        land_in_field(craft, scenario, hill.field)


def soar_for(craft: Craft, seconds: float, above_m: float | None = None) -> None:
    """Beats in the slope lift at some height above the edge."""
    hill, enough = craft.world.hill, after(craft, seconds)
    target = hill.crest_m + (craft.rng.uniform(15, 90) if above_m is None else above_m)
    beat(craft, lambda c: enough(c) or sunk_out(c), target)


def sunk_out(craft: Craft) -> bool:
    """Too low in front of the hill to get back up."""
    hill = craft.world.hill
    _, out = hill.frame(craft.x, craft.y)
    return out > 0 and craft.z < hill.crest_m - 0.45 * hill.relief_m


def _one_act(craft: Craft, scenario: Scenario, what: str) -> bool:
    if what == "go_around":
        return broken_off_pass(craft, scenario) == "landed"
    if what == "low_pass":
        low_pass(craft)
    else:
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
    """Passes at the meadow until one succeeds; after eight the pilot goes down to the valley."""
    for _ in range(8):
        approach = Approach(craft, craft.world.hill.pad, craft.rng.choice(scenario.patterns), None, True)
        if sunk_out(craft):
            return False
        if get_ready(craft, approach) and (approach.fly() == "landed" or recover(craft) == "landed"):
            return True
    return False


def low_pass(craft: Craft) -> None:
    """A decoy: down in front of the edge, then low along it past the meadow, never meaning to land."""
    hill, rng = craft.world.hill, craft.rng
    pad_along, _ = hill.frame(hill.pad.x_m, hill.pad.y_m)
    low = hill.crest_m + rng.uniform(4, 22)
    limit = after(craft, 200)

    def down(c: Craft) -> bool:
        along, _ = hill.frame(c.x, c.y)
        return (c.z < low + 4 and 70 < abs(along - pad_along) < 220) or c.z < low - 12 or limit(c) or sunk_out(c)

    beat(craft, down, low, out_m=15, centre_m=pad_along, hurry=True)
    if sunk_out(craft):
        return
    craft.event("decoy", what="low_pass")
    craft.phase("climb", "ridge", "low_pass")
    along, _ = hill.frame(craft.x, craft.y)
    way = 1 if along < pad_along else -1
    for share, out in ((-0.4, rng.uniform(-8, 14)), (1.2, rng.uniform(-10, 14))):
        fly_to(craft, *hill.point(pad_along + way * share * 110, out), 28, craft.wing.trim_mps * rng.uniform(1.0, 1.1),
               until=lambda c: c.height < 2.5, longest_s=60)  # fmt: skip
    craft.event("decoy_end", what="low_pass")
    fly_back_into_lift(craft)


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


# -- polar ------------------------------------------------------------------------------------------------------
def polar_day(craft: Craft, scenario: Scenario) -> None:
    """One glide after another from high above, at many speeds; the wing is taken up again between them."""
    rng, hill, wing = craft.rng, craft.world.hill, craft.wing
    seconds = scenario.flight_minutes * 60 / max(1, scenario.glides)
    stand(craft, rng.uniform(20, 60))
    prepare_and_launch(craft, scenario)
    heading = craft.psi
    for _ in range(scenario.glides):
        _climb_up(craft, scenario, hill.crest_m + 250 + seconds * wing.min_sink_mps * 1.3)
        heading = heading + rng.choice((-1, 1)) * rng.uniform(0.6, 2.4)
        done = after(craft, seconds)
        while not done(craft) and craft.height > 150:
            speed = rng.uniform(
                wing.min_sink_speed_mps * 1.03, wing.trim_mps + 0.75 * (wing.top_mps - wing.trim_mps)
            )
            x, y = craft.x + 9000 * math.sin(heading), craft.y + 9000 * math.cos(heading)
            leg = after(craft, rng.uniform(45, 120))
            craft_done = lambda c, leg=leg: leg(c) or done(c) or c.height < 150  # noqa: E731
            glide(craft, x, y, speed, craft_done)
    land_in_field(craft, scenario)


def _climb_up(craft: Craft, scenario: Scenario, altitude: float) -> None:
    """Up a thermal made for the purpose; when it dies, another one."""
    for _ in range(6):
        if craft.z >= altitude:
            return
        thermal = craft.world.make_thermal(craft.x, craft.y, craft.t - 300, craft.rng, 1.2)
        fly_to(craft, *thermal.core(craft.t, craft.z), 40, craft.wing.trim_mps, longest_s=60)
        climb_thermal(craft, thermal, altitude, 0.4, scenario.centring_error_m)


def fly_day(craft: Craft, scenario: Scenario) -> None:
    """The whole day, until it is over."""
    kinds = {"cross_country": cross_country, "top_landing": top_landing_day, "polar": polar_day}
    try:
        kinds[scenario.kind](craft, scenario)
        stand(craft, craft.rng.uniform(30, 180))
        if scenario.drives_home:
            drive(craft, craft.rng.uniform(240, 700))
    except EndOfDay:
        craft.event("end_of_day")
