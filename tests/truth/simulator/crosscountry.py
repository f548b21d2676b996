"""Away from the hill: from thermal to thermal, low saves, a race round turnpoints, glides for a polar."""

from __future__ import annotations

import math
import random
from dataclasses import replace

from .craft import Craft
from .landing import fly_back_into_lift
from .navigation import bearing_to, distance_to, wrapped
from .onfoot import stand
from .scenario import Scenario
from .soaring import beat, climb_thermal, fly_to, glide, search
from .starting import after, clearance, land_in_field, prepare_and_launch, sunk_out, without_mishap
from .world import LiftLine, Thermal, World


def fill_with_thermals(world: World, rng: random.Random, extent_m: float, seconds: float) -> None:
    """Thermals all over the country, coming and going for the whole day."""
    for _ in range(int((2 * extent_m / 1000) ** 2 / 2.6)):
        x, y = rng.uniform(-extent_m, extent_m), rng.uniform(-extent_m, extent_m)
        born = rng.uniform(-1200, 600)
        while born < seconds:
            thermal = world.make_thermal(x, y, born, rng)
            born += thermal.life_s + rng.uniform(0, 900)


def choose_thermal(craft: Craft, goal: tuple[float, float], used: set[Thermal]) -> Thermal | None:
    """The most promising thermal within reach that lies more or less on the way."""
    best, best_score = None, -1e9
    height = craft.z - craft.world.hill.valley_m
    reach = min(4500.0, max(0.0, height - 180) * craft.wing.best_ratio * 0.6)
    to_goal = distance_to(craft, *goal)
    for thermal in craft.world.thermals:
        if thermal in used:
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
        leg = after(craft, 30)
        glide(craft, cx + ex, cy + ey, speed, lambda c, leg=leg: found(c) or clearance(c) < 60 or leg(c))
    if not found(craft):
        search(craft, rng.uniform(10, 50), lambda c: found(c) or clearance(c) < 60)
        if rng.random() < 0.8 and thermal.strength(craft.t, craft.z) > 1:  # feels where it rises
            tries = after(craft, 45)
            while not (found(craft) or tries(craft) or clearance(craft) < 60):
                fly_to(craft, *thermal.core(craft.t, craft.z), 20, craft.wing.trim_mps, until=found, longest_s=4)
                craft.step(0.0, craft.wing.trim_mps)
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
    if not get_away(craft, scenario):
        return
    end = craft.t + scenario.flight_minutes * 60
    course = rng.uniform(0, 2 * math.pi) if scenario.wind_mps < 3 else (
        math.radians(scenario.wind_from_deg or hill.faces_deg) + math.pi + rng.gauss(0, 0.9)
    )  # fmt: skip
    main_course = course
    used: set[Thermal] = set()
    goal = _next_goal(craft, course)
    lines, patience, safe = scenario.lift_lines, 8, craft.checkpoint()
    while craft.t < end:
        if clearance(craft) > 450:
            safe = craft.checkpoint()
        if lines and clearance(craft) > 250 and rng.random() < 0.5:
            lines -= 1
            lay_lift_line(craft, bearing_to(craft, *goal))
        if distance_to(craft, *goal) < 700 or abs(wrapped(bearing_to(craft, *goal) - course)) > 1.2:
            course = main_course + rng.gauss(0, 0.8) if scenario.wind_mps > 3 else course + rng.gauss(0, 0.9)
            goal = _next_goal(craft, course)
        one_leg(craft, scenario, goal, used)
        if clearance(craft) < 200 and not low_save(craft, scenario, used):
            if craft.t > end - 0.25 * scenario.flight_minutes * 60 or not patience:
                break
            patience -= 1  # luck of another kind: this flight is to be a long one
            craft.rewind(safe)
    land_in_field(craft, scenario)


def lay_lift_line(craft: Craft, course_rad: float) -> None:
    """A line of lift a little ahead on the way, such as under a row of clouds."""
    rng = craft.rng
    towards, ahead = course_rad + rng.gauss(0, 0.25), rng.uniform(200, 800)
    x, y = craft.x + ahead * math.sin(course_rad), craft.y + ahead * math.cos(course_rad)
    craft.world.lines.append(
        LiftLine(x, y, towards, rng.uniform(900, 3000), rng.uniform(80, 160), rng.uniform(1.7, 2.9))
    )


def get_away(craft: Craft, scenario: Scenario) -> bool:
    """Launch, soar, climb away; back on top by mistake: launch again. False when the day ends on the slope."""
    for attempt in range(4):
        prepare_and_launch(craft, scenario.aborted_runs if attempt == 0 else 0)
        without_mishap(craft, lambda: soar_first(craft))
        if without_mishap(craft, lambda: leave_hill(craft, scenario), tries=4) or leave_hill(craft, scenario):
            return True
        if craft.z < craft.world.hill.crest_m - 20:
            return False
    return False


def soar_first(craft: Craft) -> bool:
    """A few minutes in the slope lift, where there is enough of it."""
    rng, hill = craft.rng, craft.world.hill
    wind = craft.world.mean_wind(craft.t, hill.crest_m)
    if craft.world.slope_rise(*hill.point(0, 28), hill.crest_m + 15, wind) > 1.4:
        enough, high = after(craft, rng.uniform(120, 480)), hill.crest_m + rng.uniform(50, 120)
        beat(craft, lambda c: enough(c) or c.z < hill.crest_m - 120, high)
    return True


def leave_hill(craft: Craft, scenario: Scenario) -> bool:
    """Wait in the slope lift for a thermal that comes through, and climb away in it; False: back on the ground."""
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
            leg = after(craft, 5)
            glide(
                craft,
                *thermal.core(craft.t, craft.z),
                craft.wing.trim_mps,
                lambda c, leg=leg, f=found: f(c) or leg(c),
            )
            craft.step(0.0, craft.wing.trim_mps)
        if found(craft):
            climb_thermal(craft, thermal, entry, craft.rng.uniform(0.4, 0.8), scenario.centring_error_m)
        if craft.z > begin + 250 or clearance(craft) < 120:
            return True
        if soarable and craft.z < hill.crest_m + 150:
            if fly_back_into_lift(craft) == "landed":
                return False
            done = after(craft, craft.rng.uniform(40, 150))
            beat(craft, lambda c, d=done: d(c) or sunk_out(c), hill.crest_m + craft.rng.uniform(40, 100))
    return True


def _next_goal(craft: Craft, course: float) -> tuple[float, float]:
    distance = craft.rng.uniform(4000, 9000)
    return craft.x + distance * math.sin(course), craft.y + distance * math.cos(course)


def thermal_through(craft: Craft, x: float, y: float, base_m: float, share: float) -> Thermal:
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
    return thermal_through(craft, *spot, hill.valley_m, rng.uniform(1.1, 1.6))


def one_leg(craft: Craft, scenario: Scenario, goal: tuple[float, float], used: set[Thermal]) -> None:
    """To the next thermal and up it, or on towards the goal when none is in reach."""
    rng = craft.rng
    speed = craft.wing.trim_mps * rng.uniform(*scenario.glide_speed_share)
    speed = max(craft.wing.trim_mps, min(craft.wing.top_mps, speed))
    thermal = choose_thermal(craft, goal, used)
    if thermal is not None:
        used.add(thermal)
        use_thermal(craft, scenario, thermal, speed)
        return
    low, leg = clearance(craft) < 300, after(craft, 90)
    glide(
        craft,
        *goal,
        craft.wing.trim_mps if low else speed,
        lambda c: leg(c) or clearance(c) < 190,
    )


def low_save(craft: Craft, scenario: Scenario, used: set[Thermal]) -> bool:
    """Low over the fields: search, and with some luck find something to climb out in."""
    rng = craft.rng
    for _ in range(5):
        if clearance(craft) < 75:
            return False
        if rng.random() < 0.15:
            search(craft, rng.uniform(15, 50), lambda c: clearance(c) < 60)
            continue
        search(craft, rng.uniform(8, 40), lambda c: clearance(c) < 65)
        heading = craft.psi + rng.uniform(-1, 1)
        x, y = craft.x + 110 * math.sin(heading), craft.y + 110 * math.cos(heading)
        thermal = thermal_through(craft, x, y, craft.world.hill.height(x, y), rng.uniform(0.9, 1.3))
        used.add(thermal)
        if use_thermal(craft, scenario, thermal, craft.wing.trim_mps) and clearance(craft) > 250:
            return True
    return False


def task_flight(craft: Craft, scenario: Scenario) -> None:
    """A race: wait inside the start cylinder for its time, leave it, reach each turnpoint, land at goal."""
    rng, used = craft.rng, set()
    stand(craft, rng.uniform(30, 200))
    if not get_away(craft, scenario):
        return
    _wait_for_start(craft, scenario)
    for number, goal in enumerate(scenario.turnpoints[1:]):
        last = number == len(scenario.turnpoints) - 2
        radius = scenario.goal_cylinder_m if last else scenario.cylinder_m
        while distance_to(craft, *goal) > radius - 60:
            reach = (clearance(craft) - 60) * craft.wing.best_ratio * 0.55
            if distance_to(craft, *goal) < max(reach, radius + 500):
                speed = craft.wing.trim_mps * rng.uniform(*scenario.glide_speed_share)
                inside = radius - 70
                glide(craft, *goal, speed, lambda c, g=goal, r=inside: distance_to(c, *g) < r or clearance(c) < 60)
                if clearance(craft) < 62:
                    break
            else:
                one_leg(craft, scenario, goal, used)
            far = distance_to(craft, *goal) > radius
            if clearance(craft) < 200 and far and not low_save(craft, scenario, used):
                land_in_field(craft, scenario)
                return
    land_in_field(craft, scenario)


def _wait_for_start(craft: Craft, scenario: Scenario) -> None:
    """Stay high inside the start cylinder until a little after its time."""
    rng = craft.rng
    start_x, start_y = scenario.turnpoints[0]
    late = scenario.start_at_s + rng.uniform(5, 120)
    while craft.t < late and clearance(craft) > 70:
        if clearance(craft) < 500:
            x, y = craft.x + 60 * math.sin(craft.psi), craft.y + 60 * math.cos(craft.psi)
            thermal = thermal_through(craft, x, y, craft.world.hill.valley_m, rng.uniform(1.0, 1.4))
            top = thermal.base_m + rng.uniform(0.7, 0.95) * (thermal.top_m - thermal.base_m)
            climb_thermal(craft, thermal, top, 0.4, scenario.centring_error_m)
            continue
        leg = after(craft, 90)
        x, y = start_x + rng.gauss(0, 400), start_y + rng.gauss(0, 400)
        glide(craft, x, y, craft.wing.trim_mps, lambda c, leg=leg: leg(c) or c.t > late or clearance(c) < 300)


def polar_day(craft: Craft, scenario: Scenario) -> None:
    """One glide after another from high above, at many speeds; the wing is taken up again between them."""
    rng, hill, wing = craft.rng, craft.world.hill, craft.wing
    seconds = scenario.flight_minutes * 60 / max(1, scenario.glides)
    stand(craft, rng.uniform(20, 60))
    prepare_and_launch(craft)
    heading = craft.psi
    for _ in range(scenario.glides):
        if not climb_up(craft, scenario, hill.crest_m + 250 + seconds * wing.min_sink_mps * 1.3):
            return
        heading = heading + rng.choice((-1, 1)) * rng.uniform(0.6, 2.4)
        done = after(craft, seconds)
        while not done(craft) and craft.height > 150:
            speed = rng.uniform(
                wing.min_sink_speed_mps * 1.03, wing.trim_mps + 0.75 * (wing.top_mps - wing.trim_mps)
            )
            x, y = craft.x + 9000 * math.sin(heading), craft.y + 9000 * math.cos(heading)
            leg = after(craft, rng.uniform(45, 120))
            glide(craft, x, y, speed, lambda c, leg=leg, done=done: leg(c) or done(c) or c.height < 150)
    land_in_field(craft, scenario)


def climb_up(craft: Craft, scenario: Scenario, altitude: float) -> bool:
    """Up a thermal made for the purpose; when it dies, another one. False when that ended on the ground."""
    hill = craft.world.hill
    near = craft.z < hill.crest_m + 200 and math.hypot(craft.x, craft.y) < 1500
    if (
        near
        and not leave_hill(craft, scenario)
        and not (craft.z > hill.crest_m - 20 and get_away(craft, scenario))
    ):
        return False
    for _ in range(8):
        if craft.z >= altitude or clearance(craft) < 60:
            break
        x, y = craft.x + 60 * math.sin(craft.psi), craft.y + 60 * math.cos(craft.psi)
        thermal = thermal_through(craft, x, y, hill.valley_m, craft.rng.uniform(1.1, 1.5))
        thermal = craft.world.thermals[-1] = replace(thermal, top_m=max(thermal.top_m, altitude + 400))
        fly_to(craft, *thermal.core(craft.t, craft.z), 40, craft.wing.trim_mps, longest_s=25)
        climb_thermal(craft, thermal, altitude, 0.4, scenario.centring_error_m)
    return True
